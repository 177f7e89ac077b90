drop table blob;
