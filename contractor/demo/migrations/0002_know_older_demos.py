"""Say of a firm that an older demo filled that it was made up, so that it can be removed too.

Older demos did not say so. Their firms are known by their slug and by their people: somebody sits
in each as office@SLUG.example, and nobody by an address outside `.example`, which RFC 2606 keeps
for examples; no mail can reach anybody there. Once a real person has sat in it, it stays as it is.
"""

from django.db import migrations

KNOW = """
set constraints all immediate;
alter table tenancy_firmprofile no force row level security, disable trigger invented_at_first;
alter table tenancy_member no force row level security;
alter table owners_ownerseat no force row level security;
with sits as (
    select m.firm_id, u.email from tenancy_member m join tenancy_user u on u.id = m.user_id
    union all
    select s.firm_id, u.email from owners_ownerseat s join tenancy_user u on u.id = s.user_id
)
update tenancy_firmprofile p set is_invented = true
from tenancy_firm f
where f.id = p.firm_id and not p.is_invented and f.slug in ('tarnbeck', 'wexholt')
  and exists (select from sits where firm_id = f.id and email = 'office@' || f.slug || '.example')
  and not exists (select from sits where firm_id = f.id and email not like '%.example');
alter table owners_ownerseat force row level security;
alter table tenancy_member force row level security;
alter table tenancy_firmprofile force row level security, enable trigger invented_at_first;
"""


class Migration(migrations.Migration):
    dependencies = [
        ("demo", "0001_remove_an_invented_firm"),
        ("owners", "0002_links_and_decisions"),
        ("tenancy", "0004_languages"),
    ]

    operations = [migrations.RunSQL(KNOW, migrations.RunSQL.noop)]
