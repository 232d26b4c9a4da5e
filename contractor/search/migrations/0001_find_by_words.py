"""Trigram indexes over what people type, and the function that reads them.

LIKE is not leakproof, so behind row security PostgreSQL may not use it to search an index: every
search would read a firm's whole list. The function therefore runs as its owner, asks for the
active firm itself, and answers keys only; the rows of these keys are then read behind the wall.
"""

from django.db import migrations

MISSING = (
    "PostgreSQL here does not bring the extension {name}, which search needs. Install PostgreSQL's"
    " own contributed modules (Debian, Ubuntu: they are part of postgresql; others:"
    " postgresql-contrib), then migrate again."
)
REFUSED = (
    "The role that migrates may not make the extension {name}. Let a superuser run, once, in this"
    " database: CREATE EXTENSION {name}; then migrate again."
)

DOCS = {
    "register_customer": "lower(name || ' ' || address)",
    "register_building": "lower(name || ' ' || street || ' ' || town || ' ' || postcode)",
    "register_device": "lower(address || ' ' || label || ' ' || serial)",
    "findings_finding": "lower(title || ' ' || text)",
    "visits_visit": "lower(purpose)",
}

FUNCTION = """
create function search_keys(words text[], most integer, loosely boolean)
returns table (kind text, id uuid, fits real)
language plpgsql stable security definer
set search_path = pg_catalog, public, pg_temp
as $search$
declare
    active uuid := nullif(current_setting('app.firm_id', true), '')::uuid;
    whole text := array_to_string(words, ' ');
    word text;
    pattern text;
    there uuid[];
    own text := '';
    either text := '';
    part text;
    doc text;
    is_named boolean := false;
begin
    if active is null or coalesce(array_length(words, 1), 0) = 0 then
        return;
    end if;
    if loosely then
        perform set_config('pg_trgm.word_similarity_threshold', '0.4', true);
        return query execute format(
            'select ''customer'', c.id, word_similarity(%1$L, lower(c.name || '' '' || c.address))'
            ' from register_customer c where c.firm_id = %2$L'
            ' and %1$L <%% lower(c.name || '' '' || c.address) order by 3 desc, 2 limit %3$s',
            whole, active, most);
        return query execute format(
            'select ''building'', b.id, word_similarity(%1$L, lower(b.name || '' '' || b.street ||'
            ' '' '' || b.town || '' '' || b.postcode)) from register_building b'
            ' where b.firm_id = %2$L and %1$L <%% lower(b.name || '' '' || b.street || '' '' ||'
            ' b.town || '' '' || b.postcode) order by 3 desc, 2 limit %3$s',
            whole, active, most);
        return query execute format(
            'select ''device'', t.id, t.fits from (select d.id, word_similarity(%1$L,'
            ' lower(d.address || '' '' || d.label || '' '' || d.serial)) as fits'
            ' from register_device d where d.firm_id = %2$L and d.removed_on is null'
            ' and %1$L <%% lower(d.address || '' '' || d.label || '' '' || d.serial)'
            ' limit 2000) t order by 3 desc, 2 limit %3$s',
            whole, active, most);
        return;
    end if;

    -- Each word has to stand in the thing itself, or in the name of its building.
    foreach word in array words loop
        pattern := replace(replace(replace(word, '\\', '\\\\'), '%', '\\%'), '_', '\\_');
        pattern := case when length(word) < 3 then pattern || '%' else '%' || pattern || '%' end;
        own := own || format(' and DOC like %L', pattern);
        there := array(
            select b.id from register_building b
            where b.firm_id = active
              and lower(b.name || ' ' || b.street || ' ' || b.town || ' ' || b.postcode)
                  like pattern
            limit 301);
        part := format(' and (DOC like %L', pattern);
        if array_length(there, 1) > 300 then
            part := part || format(
                ' or exists (select from register_building b where b.id = t.building_id and'
                ' b.firm_id = %L and lower(b.name || '' '' || b.street || '' '' || b.town ||'
                ' '' '' || b.postcode) like %L)', active, pattern);
            is_named := true;
        elsif array_length(there, 1) > 0 then
            part := part || format(' or t.building_id = any(%L::uuid[])', there);
            is_named := true;
        end if;
        either := either || part || ')';
    end loop;

    doc := 'lower(t.name || '' '' || t.address)';
    return query execute format(
        'select ''customer'', t.id, similarity(lower(t.name), %L) from register_customer t'
        ' where t.firm_id = %L', whole, active)
        || replace(own, 'DOC', doc) || format(' order by 3 desc, 2 limit %s', most);
    doc := 'lower(t.name || '' '' || t.street || '' '' || t.town || '' '' || t.postcode)';
    return query execute format(
        'select ''building'', t.id, similarity(lower(t.name), %L) from register_building t'
        ' where t.firm_id = %L', whole, active)
        || replace(own, 'DOC', doc) || format(' order by 3 desc, 2 limit %s', most);

    doc := 'lower(t.address || '' '' || t.label || '' '' || t.serial)';
    return query execute
        'select ''device'', f.id, f.fits from (select t.id, t.address, (case when lower(t.address) = '
        || quote_literal(words[1]) || ' or lower(t.serial) = ' || quote_literal(words[1])
        || ' then 2 when lower(t.address) like '
        || quote_literal(words[1] || '%') || ' then 1 else 0 end + round(similarity('
        || doc || ', ' || quote_literal(whole)
        || ')::numeric, 1))::real as fits from register_device t where t.removed_on is null and t.firm_id = '
        || quote_literal(active)
        || replace(case when is_named then either else own end, 'DOC', doc)
        || format(' limit 2000) f order by f.fits desc, f.address, 2 limit %s', most);
    doc := 'lower(t.title || '' '' || t.text)';
    return query execute
        'select ''finding'', f.id, f.fits from (select t.id, (similarity(lower(t.title), '
        || quote_literal(whole)
        || ') + case when t.corrected_on is null then 1 else 0 end)::real as fits'
        || ' from findings_finding t where t.firm_id = ' || quote_literal(active)
        || replace(case when is_named then either else own end, 'DOC', doc)
        || format(' limit 2000) f order by 3 desc, 2 limit %s', most);
    doc := 'lower(t.purpose)';
    return query execute
        'select ''visit'', f.id, f.fits from (select t.id,'
        || ' (case when t.state in (''planned'', ''under_way'', ''to_review'') then 1 else 0 end'
        || ' - abs(t.planned_on - current_date) / 100000.0)::real as fits from visits_visit t'
        || ' where t.firm_id = ' || quote_literal(active)
        || replace(case when is_named then either else own end, 'DOC', doc)
        || format(' limit 2000) f order by 3 desc, 2 limit %s', most);
end
$search$
"""


def prepare(apps, schema_editor):
    """Make the two extensions, or say what is to be done."""
    with schema_editor.connection.cursor() as cursor:
        for name in ("pg_trgm", "btree_gin"):
            cursor.execute("select 1 from pg_extension where extname = %s", [name])
            if cursor.fetchone():
                continue
            cursor.execute("select 1 from pg_available_extensions where name = %s", [name])
            if not cursor.fetchone():
                raise RuntimeError(MISSING.format(name=name))
            cursor.execute("select has_database_privilege(current_database(), 'create')")
            if not cursor.fetchone()[0]:
                raise RuntimeError(REFUSED.format(name=name))
            cursor.execute(f"create extension {name}")


class Migration(migrations.Migration):
    dependencies = [
        ("register", "0004_who_is_told_and_limits"),
        ("findings", "0002_followed_to_their_end"),
        ("visits", "0002_refuse_changes_to_sealed_records"),
    ]

    operations = [
        migrations.RunPython(prepare, migrations.RunPython.noop, elidable=False),
        *[
            migrations.RunSQL(
                f"create index {table}_words on {table} using gin (firm_id, ({doc}) gin_trgm_ops)",
                f"drop index {table}_words",
            )
            for table, doc in DOCS.items()
        ],
        migrations.RunSQL(
            FUNCTION, "drop function search_keys(text[], integer, boolean)"
        ),
    ]
