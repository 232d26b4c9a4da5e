"""Keep beside each detector where it stands now."""

from collections.abc import Sequence
from uuid import UUID

from django.db import connection

from contractor.tenancy.scope import active_firm

_REFRESH = """
    update register_device d
    set latest_on = l.taken_on,
        latest_verdict = coalesce(l.verdict, 'not_judged'),
        latest_reason = coalesce(l.reason, ''),
        latest_point = coalesce(l.measured, l.setting),
        latest_drift = l.drift,
        latest_limit = l."limit",
        latest_used = l.used,
        run_started_on = coalesce(
            (select max(s.started_on) from readings_runstart s
             where s.firm_id = %(firm)s and s.device_id = d.id),
            d.installed_on)
    from register_device x
    left join lateral (
        select r.taken_on, r.verdict,
               coalesce(nullif(r.override_reason, ''), r.reason) as reason, r.measured,
               r.setting, r.drift, r."limit", r.used
        from readings_reading r
        where r.firm_id = %(firm)s and r.device_id = x.id
          and not exists (select from readings_withdrawal w
                          where w.firm_id = %(firm)s and w.reading_id = r.id)
        order by r.taken_on desc, r.stage desc, r.recorded_at desc, r.id desc
        limit 1
    ) l on true
    where x.id = d.id and d.firm_id = %(firm)s and d.id = any(%(devices)s)
"""


def refresh_standing(*, device_ids: Sequence[UUID]) -> int:
    """Renew the latest_* columns of some devices from their readings; answer how many.

    as_left sorts after as_found, so that what was left counts where both fall on one day.
    """
    assert "as_left" > "as_found"
    with connection.cursor() as cursor:
        cursor.execute(_REFRESH, {"firm": active_firm(), "devices": list(device_ids)})
        return cursor.rowcount
