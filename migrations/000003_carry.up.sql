-- The key of what is carried without a network, as codes on a screen or as a
-- file. Only keys that follow from it are handed out, by role. A new event gets
-- its own, 244 random bits; a restored back-up keeps it.
alter table event
    add column carry_key bytea not null
        default sha256(uuid_send(gen_random_uuid()) || uuid_send(gen_random_uuid()))
        check (octet_length(carry_key) = 32);
