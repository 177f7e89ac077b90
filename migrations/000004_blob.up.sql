-- Pictures, by the SHA-256 of what a device sent: two that are the same are one.
-- bytes were written anew by the server, so nothing of a camera is in them.
create table blob (
    event_id uuid        not null constraint blob_event_fkey references event (event_id),
    sha256   bytea       not null check (octet_length(sha256) = 32),
    media    text        not null check (media in ('image/jpeg', 'image/png')),
    bytes    bytea       not null check (octet_length(bytes) between 1 and 4194304),
    made_at  timestamptz not null,
    primary key (event_id, sha256)
);
