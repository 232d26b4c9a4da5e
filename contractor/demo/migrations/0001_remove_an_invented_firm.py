"""Let a firm that the demo made up be removed whole, with what is otherwise only ever added.

The application's role may not remove readings, audit lines or sealed records. It asks a function
of the owner's, which looks itself that the active firm was made up, and removes that one alone.
"""

from django.db import migrations

REMOVE = """
create or replace function visits_refuse_change() returns trigger language plpgsql as $$
begin
    if tg_level = 'ROW' then
        if tg_op = 'UPDATE' and current_setting('app.removing', true) = old.id::text
           and to_jsonb(new) - 'body' = to_jsonb(old) - 'body'
           and new.body::jsonb ->> 'format' = 'driftbook-removed/1'
           and exists (select from custody_removal r
                       where r.firm_id = old.firm_id and r.record_id = old.id
                         and r.record_hash = old.record_hash) then
            return new;
        end if;
        if tg_op = 'DELETE' and current_setting('app.unmaking', true) = old.firm_id::text
           and exists (select from tenancy_firmprofile p
                       where p.firm_id = old.firm_id and p.is_invented) then
            return old;
        end if;
    end if;
    raise exception 'A sealed record is never changed or removed. Amend the visit instead.'
        using errcode = 'restrict_violation';
end
$$;
create function demo_remove_firm() returns void
    language plpgsql security definer set search_path = public, pg_temp as $$
declare
    firm uuid := nullif(current_setting('app.firm_id', true), '')::uuid;
    one text;
begin
    if not exists (select from tenancy_firmprofile p where p.firm_id = firm and p.is_invented) then
        raise exception 'Only a firm that the demo made up can be removed.'
            using errcode = 'restrict_violation';
    end if;
    set constraints all deferred;
    perform set_config('app.unmaking', firm::text, true);
    for one in
        select c.relname from pg_class c join pg_namespace n on n.oid = c.relnamespace
        join pg_attribute a on a.attrelid = c.oid and a.attname = 'firm_id' and not a.attisdropped
        where n.nspname = 'public' and c.relkind in ('r', 'p') and not c.relispartition
        order by c.relname = 'tenancy_firmprofile', c.relname
    loop
        execute format('delete from %I where firm_id = $1', one) using firm;
    end loop;
    perform set_config('app.unmaking', '', true);
    delete from tenancy_firm where id = firm;
end
$$;
"""
GONE = """
drop function demo_remove_firm();
create or replace function visits_refuse_change() returns trigger language plpgsql as $$
begin
    if tg_op = 'UPDATE' and tg_level = 'ROW' then
        if current_setting('app.removing', true) = old.id::text
           and to_jsonb(new) - 'body' = to_jsonb(old) - 'body'
           and new.body::jsonb ->> 'format' = 'driftbook-removed/1'
           and exists (select from custody_removal r
                       where r.firm_id = old.firm_id and r.record_id = old.id
                         and r.record_hash = old.record_hash) then
            return new;
        end if;
    end if;
    raise exception 'A sealed record is never changed or removed. Amend the visit instead.'
        using errcode = 'restrict_violation';
end
$$;
"""


class Migration(migrations.Migration):
    dependencies = [
        ("custody", "0002_remove_content"),
        ("tenancy", "0003_invented_firms"),
        ("visits", "0002_refuse_changes_to_sealed_records"),
    ]

    operations = [migrations.RunSQL(REMOVE, GONE)]
