"""Keep beside each detector where it stands now."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from django.db import connection

from contractor.tenancy.bulk import incoming
from contractor.tenancy.scope import active_firm

_FEW = 50  # so few are found by index, whatever the statistics

#: What a file may change on the list, with its type.
CHANGED = {
    "label": "text",
    "setting": "numeric",
    "kind": "text",
    "component": "text",
    "circuit": "text",
    "serial": "text",
    "installed_on": "date",
    "area_id": "uuid",
    "product_id": "uuid",
}

_REFRESH = """
    with latest as (
        select distinct on (r.device_id)
               r.device_id, r.taken_on, r.verdict,
               coalesce(nullif(r.override_reason, ''), r.reason) as reason,
               coalesce(r.measured, r.setting) as point, r.drift, r."limit", r.used
        from readings_reading r
        left join readings_withdrawal w on w.firm_id = %(firm)s and w.reading_id = r.id
        where r.firm_id = %(firm)s and r.device_id {among}
          and r.taken_on >= %(since)s and w.reading_id is null
        order by r.device_id, r.taken_on desc, r.stage desc, r.recorded_at desc, r.id desc
    ), runs as (
        select s.device_id, max(s.started_on) as started_on
        from readings_runstart s
        where s.firm_id = %(firm)s and s.device_id {among}
        group by s.device_id
    )
    update register_device d
    set latest_on = l.taken_on,
        latest_verdict = coalesce(l.verdict, 'not_judged'),
        latest_reason = coalesce(l.reason, ''),
        latest_point = l.point,
        latest_drift = l.drift,
        latest_limit = l."limit",
        latest_used = l.used,
        run_started_on = coalesce(n.started_on, {installed_on})
        {changes}
    from {these}
    left join latest l on l.device_id = x.id
    left join runs n on n.device_id = x.id
    where d.id = x.id and d.firm_id = %(firm)s
"""
_CHANGES = "".join(
    f", {name} = coalesce({f'round(x.{name}, 3)' if kind == 'numeric' else f'x.{name}'}, d.{name})"
    for name, kind in CHANGED.items()
)
_AMONG = {True: "= any(%(devices)s)", False: "in (select id from pg_temp.incoming)"}


def refresh_standing(
    *,
    device_ids: Sequence[UUID],
    since: date = date.min,
    changes: Mapping[UUID, tuple[Any, ...]] | None = None,
) -> int:
    """Renew the latest_* columns of some devices from their readings; answer how many.

    as_left sorts after as_found, so that what was left counts where both fall on one day. since:
    a day on or after which each of the devices has a reading that counts; it spares the history.
    changes: what else changes of them, in the order of CHANGED, None where it stays. Together it
    is one new version of each row, and one check of its keys, instead of two.
    """
    assert "as_left" > "as_found"
    said: dict[str, Any] = {"firm": active_firm(), "since": since}
    few = len(device_ids) <= _FEW
    if few:
        said["devices"] = list(device_ids)
    if few and not changes:
        these, parts = "unnest(%(devices)s::uuid[]) as x (id)", ("d.installed_on", "")
        with connection.cursor() as cursor:
            cursor.execute(_statement(few, these, *parts), said)
            return cursor.rowcount
    changes = changes or {}
    nothing = (None,) * len(CHANGED)
    parts = (
        ("coalesce(x.installed_on, d.installed_on)", _CHANGES)
        if changes
        else ("d.installed_on", "")
    )
    columns = {"id": "uuid", **(CHANGED if changes else {})}
    copied = (
        (pk, *changes.get(pk, nothing)) if changes else (pk,) for pk in dict.fromkeys(device_ids)
    )
    with incoming(columns, copied) as cursor:
        if few:
            cursor.execute("set local enable_nestloop to on")
        cursor.execute(_statement(few, "pg_temp.incoming x", *parts), said)
        return int(cursor.rowcount)


def _statement(few: bool, these: str, installed_on: str, changes: str) -> str:
    return _REFRESH.format(
        among=_AMONG[few], these=these, installed_on=installed_on, changes=changes
    )
