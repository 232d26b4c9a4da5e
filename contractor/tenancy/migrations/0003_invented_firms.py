"""Say of a firm that it was made up, once and for ever, before anybody sits in it."""

from django.db import migrations, models

ONCE = """
create function tenancy_invented_at_first() returns trigger language plpgsql as $$
begin
    if tg_op = 'UPDATE' then
        if new.is_invented <> old.is_invented then
            raise exception 'Whether a firm is made up is said as it is made, and never changed.'
                using errcode = 'restrict_violation';
        end if;
    elsif new.is_invented
          and exists (select from tenancy_member m where m.firm_id = new.firm_id) then
        raise exception 'Somebody sits in this firm; it is not made up.'
            using errcode = 'restrict_violation';
    end if;
    return new;
end
$$;
create trigger invented_at_first before insert or update on tenancy_firmprofile
    for each row execute function tenancy_invented_at_first();
"""
GONE = """
drop trigger invented_at_first on tenancy_firmprofile;
drop function tenancy_invented_at_first();
"""


class Migration(migrations.Migration):
    dependencies = [("tenancy", "0002_lists_deeds_nights")]

    operations = [
        migrations.AddField(
            model_name="firmprofile",
            name="is_invented",
            field=models.BooleanField(default=False, editable=False),
        ),
        migrations.RunSQL(ONCE, GONE),
    ]
