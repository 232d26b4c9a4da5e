"""Keep beside each detector where it stands now."""

from collections.abc import Sequence
from contextlib import nullcontext
from datetime import date
from typing import Any
from uuid import UUID

from django.db import connection

from contractor.tenancy.bulk import joined_by_hash
from contractor.tenancy.scope import active_firm

_FEW = 50  # so few are found by index, whatever the statistics

_REFRESH = """
    with latest as (
        select distinct on (r.device_id)
               r.device_id, r.taken_on, r.verdict,
               coalesce(nullif(r.override_reason, ''), r.reason) as reason,
               coalesce(r.measured, r.setting) as point, r.drift, r."limit", r.used
        from readings_reading r
        left join readings_withdrawal w on w.firm_id = %(firm)s and w.reading_id = r.id
        where r.firm_id = %(firm)s and r.device_id = any(%(devices)s)
          and r.taken_on >= %(since)s and w.reading_id is null
        order by r.device_id, r.taken_on desc, r.stage desc, r.recorded_at desc, r.id desc
    ), runs as (
        select s.device_id, max(s.started_on) as started_on
        from readings_runstart s
        where s.firm_id = %(firm)s and s.device_id = any(%(devices)s)
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
        run_started_on = coalesce(n.started_on, d.installed_on)
    from unnest(%(devices)s::uuid[]) as x (id)
    left join latest l on l.device_id = x.id
    left join runs n on n.device_id = x.id
    where d.id = x.id and d.firm_id = %(firm)s
"""


def refresh_standing(*, device_ids: Sequence[UUID], since: date = date.min) -> int:
    """Renew the latest_* columns of some devices from their readings; answer how many.

    as_left sorts after as_found, so that what was left counts where both fall on one day. since:
    a day on or after which each of the devices has a reading that counts; it spares the history.
    """
    assert "as_left" > "as_found"
    said: dict[str, Any] = {"firm": active_firm(), "devices": list(device_ids), "since": since}
    many = joined_by_hash() if len(said["devices"]) > _FEW else nullcontext()
    with many, connection.cursor() as cursor:
        cursor.execute(_REFRESH, said)
        return cursor.rowcount
