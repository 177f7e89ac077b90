-- Everything that belongs to an event has event_id first in its primary key,
-- its uniques and its foreign keys, so that a distributed server can keep an
-- event in one place. Only account, game and setting are shared by all events.

create table account (
    id            uuid        primary key,
    name          text        not null check (char_length(name) between 1 and 200),
    password_hash text        not null,
    made_at       timestamptz not null
);
create unique index account_name_key on account (lower(name));

create table setting (
    key   text primary key,
    value text not null
);

-- body keeps the text as it was given: the hash is taken over it.
create table game (
    hash text primary key,
    body json not null
);

create table event (
    event_id  uuid        primary key,
    name      text        not null check (char_length(name) between 1 and 200),
    zone      text        not null check (char_length(zone) between 1 and 100),
    our_team  text        not null default '' check (our_team ~ '^([1-9][0-9]{0,4}[A-Z]?)?$'),
    game_hash text        not null constraint event_game_fkey references game (hash),
    overrides jsonb       not null default '{}',
    change_no bigint      not null default 0, -- the last number of the feed
    data_no   bigint      not null default 0, -- moves when an analysis must be made again
    made_at   timestamptz not null,
    ended_at  timestamptz
);

-- A member who left keeps the row (records name it) and gives the nickname back.
create table member (
    event_id   uuid        not null constraint member_event_fkey references event (event_id),
    member_id  uuid        not null,
    account_id uuid        constraint member_account_fkey references account (id),
    role       text        not null check (role in ('scout', 'lead', 'coach')),
    nickname   text        not null check (char_length(nickname) between 1 and 200),
    device_id  text, -- the device that joined by a code; nobody else's takes the nickname
    made_at    timestamptz not null,
    removed_at timestamptz,
    primary key (event_id, member_id)
);
create unique index member_nickname_key on member (event_id, lower(nickname)) where removed_at is null;
create unique index member_account_key on member (event_id, account_id) where removed_at is null;
create index member_account_idx on member (account_id);

create table code (
    event_id   uuid        not null constraint code_event_fkey references event (event_id),
    code_id    uuid        not null,
    code_hash  bytea       not null,
    role       text        not null check (role in ('scout', 'lead', 'coach')),
    label      text        not null default '',
    expires_at timestamptz not null,
    revoked_at timestamptz,
    uses_left  integer     check (uses_left >= 0), -- null: not limited
    made_at    timestamptz not null,
    primary key (event_id, code_id)
);
create unique index code_hash_key on code (event_id, code_hash);
create index code_hash_idx on code (code_hash); -- who types a code does not know its event

-- event_id is zero for an account's own session, which is why it has no
-- foreign key of its own: a member's session refers to its event by the member.
create table session (
    event_id   uuid        not null,
    token_hash bytea       not null,
    member_id  uuid,
    account_id uuid        constraint session_account_fkey references account (id),
    device_id  text        not null default '',
    role       text        check (role in ('scout', 'lead', 'coach')),
    made_at    timestamptz not null,
    expires_at timestamptz not null,
    revoked_at timestamptz,
    primary key (event_id, token_hash),
    constraint session_member_fkey foreign key (event_id, member_id) references member (event_id, member_id),
    constraint session_owner_check check (
        case when event_id = '00000000-0000-0000-0000-000000000000'
             then account_id is not null and member_id is null and role is null
             else account_id is null and member_id is not null and role is not null
        end)
);
create index session_member_idx on session (event_id, member_id);
create index session_account_idx on session (account_id);

create table team (
    event_id uuid not null constraint team_event_fkey references event (event_id),
    team     text not null check (team ~ '^[1-9][0-9]{0,4}[A-Z]?$'),
    name     text not null,
    pit      text not null default '',
    primary key (event_id, team)
);

-- A match that is played again has one row for each play.
create table match (
    event_id  uuid     not null constraint match_event_fkey references event (event_id),
    stage     text     not null check (stage in ('W', 'Q', 'P', 'F')),
    number    integer  not null check (number between 1 and 9999),
    play      smallint not null check (play >= 1),
    starts_at timestamptz, -- null: not known
    primary key (event_id, stage, number, play)
);

create table seat (
    event_id  uuid     not null,
    stage     text     not null,
    number    integer  not null,
    play      smallint not null,
    alliance  text     not null check (alliance in ('red', 'blue')),
    station   smallint not null check (station >= 1),
    team      text     not null,
    surrogate boolean  not null default false,
    primary key (event_id, stage, number, play, alliance, station),
    constraint seat_once_key unique (event_id, stage, number, play, team),
    constraint seat_match_fkey foreign key (event_id, stage, number, play)
        references match (event_id, stage, number, play) on delete cascade,
    constraint seat_team_fkey foreign key (event_id, team) references team (event_id, team)
);

-- A revision never changes and is never deleted.
create table revision (
    event_id    uuid        not null constraint revision_event_fkey references event (event_id),
    revision_id uuid        not null,
    record_id   uuid        not null,
    parents     uuid[]      not null default '{}', -- may not have arrived yet
    kind        text        not null check (kind ~ '^[a-z][a-z_]{0,39}$'),
    lamport     bigint      not null check (lamport >= 0),
    author      text        not null, -- the nickname then
    member_id   uuid,                 -- who that is; null: not known here
    role        text        not null check (role in ('scout', 'lead', 'coach')),
    device_id   text        not null default '',
    made_at     timestamptz not null, -- by the device's clock
    received_at timestamptz not null, -- by ours
    via         text        not null,
    change_no   bigint      not null,
    body        jsonb       not null check (jsonb_typeof(body) = 'object'),
    primary key (event_id, revision_id),
    constraint revision_change_key unique (event_id, change_no),
    constraint revision_member_fkey foreign key (event_id, member_id) references member (event_id, member_id)
);
create index revision_record_idx on revision (event_id, record_id);

-- What the revisions of a record say together: derived, and can be made again.
-- head has no foreign key: it is written before its revision gets a number, and
-- a check of each would cost more than the rest of the batch.
create table record (
    event_id  uuid    not null constraint record_event_fkey references event (event_id),
    record_id uuid    not null,
    kind      text    not null,
    head      uuid    not null,
    heads     uuid[]  not null,
    conflict  boolean not null default false,
    owner     uuid,    -- the scout who made the first revision that arrived
    stage     text,    -- of the match that the body names
    number    integer,
    team      text,    -- that the body names
    body      jsonb,   -- merged kinds: the merged members; whole kinds: null, see the head
    primary key (event_id, record_id)
);
create index record_match_idx on record (event_id, kind, stage, number);

-- The feed. A number is taken from event.change_no by the last statement of a
-- transaction, so numbers become visible in their order and without gaps.
create table change (
    event_id  uuid   not null constraint change_event_fkey references event (event_id),
    change_no bigint not null,
    kind      text   not null check (kind in ('record', 'event', 'game', 'teams', 'matches', 'members')),
    record_id uuid,
    audience  text   not null check (audience in ('all', 'staff') or audience like 'member:%'),
    primary key (event_id, change_no)
);
create index change_kind_idx on change (event_id, kind, change_no);

create table audit (
    event_id  uuid        not null constraint audit_event_fkey references event (event_id),
    audit_id  uuid        not null,
    at        timestamptz not null,
    member_id uuid,
    what      text        not null,
    detail    jsonb       not null default '{}',
    primary key (event_id, audit_id)
);

create table analysis (
    event_id     uuid        not null constraint analysis_event_fkey references event (event_id),
    data_no      bigint      not null,
    engine       text        not null,
    options_hash text        not null,
    body         json        not null,
    made_at      timestamptz not null,
    primary key (event_id, data_no, engine, options_hash)
);
