#!/bin/sh
# Make the two database roles, once, in an empty PostgreSQL: `owner` owns the tables and migrates;
# `app`, which web and worker use, owns nothing and cannot pass the rows' firm wall. The PostgreSQL
# image runs this; elsewhere a superuser does (docs/operating.md).
set -eu
owner_password=$(cat "${OWNER_PASSWORD_FILE:-/run/secrets/owner_password}")
app_password=$(cat "${APP_PASSWORD_FILE:-/run/secrets/app_password}")
psql --no-psqlrc --quiet --set ON_ERROR_STOP=1 --username "${POSTGRES_USER:-postgres}" --dbname postgres \
    --set owner_password="$owner_password" --set app_password="$app_password" <<'SQL'
create role owner login createdb bypassrls password :'owner_password';
create role app login nobypassrls password :'app_password';
alter role app set idle_in_transaction_session_timeout = '5min';
create database contractor owner owner template template0 encoding 'UTF8' locale 'C';
revoke connect on database contractor from public;
grant connect, temporary on database contractor to app;
SQL
