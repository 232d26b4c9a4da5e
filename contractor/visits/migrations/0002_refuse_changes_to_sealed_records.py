"""Let no role, not even the owner, change or remove a sealed record by mistake.

A row that was sealed is only ever added to. Whoever owns the table can still drop the triggers;
that leaves the hashes and the chain, which `manage.py verify_records` checks.
"""

from django.db import migrations

REFUSE = """
create function visits_refuse_change() returns trigger language plpgsql as $$
begin
    raise exception 'A sealed record is never changed or removed. Amend the visit instead.'
        using errcode = 'restrict_violation';
end
$$;
create trigger sealed_stays_sealed before update or delete on visits_sealedrecord
    for each row execute function visits_refuse_change();
create trigger sealed_stays_there before truncate on visits_sealedrecord
    for each statement execute function visits_refuse_change();
"""
ALLOW = """
drop trigger sealed_stays_there on visits_sealedrecord;
drop trigger sealed_stays_sealed on visits_sealedrecord;
drop function visits_refuse_change();
"""


class Migration(migrations.Migration):
    dependencies = [("visits", "0001_initial")]

    operations = [migrations.RunSQL(REFUSE, ALLOW)]
