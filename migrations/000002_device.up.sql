-- What a lead needs to know of each device: what it is, coarsely, and when it
-- was heard of last (written once a minute at most).
alter table session
    add column device_kind  text not null default '',
    add column last_seen_at timestamptz;

-- What a device sent after its session had been ended: kept apart until a lead
-- accepts it (then it is a revision) or throws it away. item is as it was sent:
-- nothing but its id and its size was looked at.
create table held (
    event_id    uuid        not null constraint held_event_fkey references event (event_id),
    revision_id uuid        not null,
    device_id   text        not null,
    member_id   uuid        not null,
    author      text        not null, -- the nickname then
    role        text        not null check (role in ('scout', 'lead', 'coach')),
    received_at timestamptz not null,
    item        json        not null,
    primary key (event_id, revision_id),
    constraint held_member_fkey foreign key (event_id, member_id) references member (event_id, member_id)
);
