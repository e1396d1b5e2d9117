#!/bin/sh
# set-up.sh: a shop's server on a machine that has Debian's or Ubuntu's packages postgresql and mosquitto. Run it as root; running it again
# changes passwords and nothing else. Passwords come from the environment; without one nothing is done.
set -eu
: "${BENCHHAND_OWNER_PASSWORD:?the password of the account shop, who owns the tables}"
: "${BENCHHAND_BENCH_PASSWORD:?the password of the account bench}" "${BENCHHAND_OFFICE_PASSWORD:?the password of the account office}"
export BENCHHAND_OWNER_PASSWORD BENCHHAND_BENCH_PASSWORD BENCHHAND_OFFICE_PASSWORD
here=$(cd "$(dirname "$0")" && pwd)
# How the database's superuser is reached, and where mosquitto looks for settings, where that is elsewhere than usual.
psql=${BENCHHAND_PSQL:-runuser -u postgres -- psql -X}
mosquitto=${BENCHHAND_MOSQUITTO:-/etc/mosquitto/conf.d}

$psql -q -d postgres <<'SQL'
\set ON_ERROR_STOP on
\set owner `printf %s "$BENCHHAND_OWNER_PASSWORD"`
select 'create role shop login' where not exists (select from pg_roles where rolname = 'shop') \gexec
alter role shop password :'owner';
select 'create database benchhand owner shop' where not exists (select from pg_database where datname = 'benchhand') \gexec
SQL
$psql -q -d benchhand <"$here/accounts.sql"
# The shop's own network may come in, with a password; nobody from farther away.
$psql -q -d postgres -c "alter system set listen_addresses = '*'"
rules=$($psql -tA -d postgres -c 'show hba_file')
grep -q '^host benchhand ' "$rules" || printf 'host benchhand shop,bench,office samenet scram-sha-256\n' >>"$rules"

sh "$here/board.sh" "$mosquitto"
if [ -d /run/systemd/system ]; then systemctl restart postgresql mosquitto; else echo "restart postgresql and mosquitto now"; fi
