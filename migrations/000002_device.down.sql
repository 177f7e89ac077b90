drop table held;
alter table session
    drop column last_seen_at,
    drop column device_kind;
