-- The accounts of a shop's database, for psql: bench may read and add, office may read. What they may do they get from `benchhand jobs roles`.
-- Passwords come from the environment; an account that is there gets the new one.
\set ON_ERROR_STOP on
\set bench `printf %s "$BENCHHAND_BENCH_PASSWORD"`
\set office `printf %s "$BENCHHAND_OFFICE_PASSWORD"`
select 'create role bench login' where not exists (select from pg_roles where rolname = 'bench') \gexec
select 'create role office login' where not exists (select from pg_roles where rolname = 'office') \gexec
alter role bench password :'bench';
alter role office password :'office';
select 'create role benchhand_bench nologin' where not exists (select from pg_roles where rolname = 'benchhand_bench') \gexec
select 'create role benchhand_viewer nologin' where not exists (select from pg_roles where rolname = 'benchhand_viewer') \gexec
-- The owner of the tables gives the roles to accounts.
grant benchhand_bench, benchhand_viewer to shop with admin option;
