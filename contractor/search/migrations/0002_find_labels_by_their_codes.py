"""The function that finds labels by their codes, and its index: see 0001 for why it is one."""

from django.db import migrations

FUNCTION = """
create function label_keys(whole text, typed text, tail text, most integer)
returns table (id uuid)
language sql stable security definer
set search_path = pg_catalog, public, pg_temp
as $search$
    select l.id
    from labels_label l
    where l.firm_id = nullif(current_setting('app.firm_id', true), '')::uuid
      and length(tail) >= 4
      and (l.code = whole
           or right(upper(l.code), 4) = right(typed, 4)
              and right(upper(l.code), length(typed)) = typed
           or right(upper(l.code), 4) = right(tail, 4)
              and l.is_ours and right(l.code, length(tail)) = tail)
    order by l.retired_at is not null, l.code, l.id
    limit most
$search$
"""


class Migration(migrations.Migration):
    dependencies = [("search", "0001_find_by_words"), ("labels", "0002_find_disputed_at_once")]

    operations = [
        migrations.RunSQL(
            "create index label_by_tail on labels_label (firm_id, right(upper(code), 4))",
            "drop index label_by_tail",
        ),
        migrations.RunSQL(FUNCTION, "drop function label_keys(text, text, text, integer)"),
    ]
