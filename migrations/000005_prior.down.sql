alter table event
    drop column prior;
