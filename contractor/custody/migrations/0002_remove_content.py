"""Let one act remove the content of a sealed record: named, written down, its hash kept.

The application's role may still change nothing. It asks a function of the owner's, which looks
that the removal is written down, that no hold stands, and that nothing but the text changes.
"""

from django.db import migrations

REMOVE = """
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
create function custody_remove_content(wanted uuid, stone text) returns void
    language plpgsql security definer set search_path = public, pg_temp as $$
begin
    if exists (select from visits_sealedrecord s
               join visits_visit v on v.firm_id = s.firm_id and v.id = s.visit_id
               join custody_hold h on h.firm_id = v.firm_id and h.building_id = v.building_id
               where s.id = wanted and h.ended_at is null) then
        raise exception 'A hold stands on this building. Nothing of it is removed.'
            using errcode = 'restrict_violation';
    end if;
    perform set_config('app.removing', wanted::text, true);
    update visits_sealedrecord set body = stone where id = wanted
        and firm_id = nullif(current_setting('app.firm_id', true), '')::uuid;
    if not found then
        raise exception 'There is no such record.' using errcode = 'restrict_violation';
    end if;
    perform set_config('app.removing', '', true);
end
$$;
"""
REFUSE = """
drop function custody_remove_content(uuid, text);
create or replace function visits_refuse_change() returns trigger language plpgsql as $$
begin
    raise exception 'A sealed record is never changed or removed. Amend the visit instead.'
        using errcode = 'restrict_violation';
end
$$;
"""


class Migration(migrations.Migration):
    dependencies = [
        ("custody", "0001_rules_holds_removals_exports"),
        ("visits", "0002_refuse_changes_to_sealed_records"),
    ]

    operations = [migrations.RunSQL(REMOVE, REFUSE)]
