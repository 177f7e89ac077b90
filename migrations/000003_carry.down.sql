alter table event
    drop column carry_key;
