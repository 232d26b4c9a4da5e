"""Gather the impairments that a record holds: protection out of service, from begin to end."""

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from contractor.findings.models import Finding, Severity
from contractor.visits.models import Visit


def list_impairments(*, visit: Visit) -> list[dict[str, Any]]:
    """List each outage that is open or ended in the year before this visit, from begin to end."""
    since = visit.planned_on - timedelta(days=365)
    found = (
        Finding.objects.filter(
            firm_id=visit.firm_id, building=visit.building, severity=Severity.IMPAIRMENT
        )
        .exclude(corrected_on__lt=since)
        .select_related("device")
        .prefetch_related("watchround_set", "noticegiven_set", "findingstep_set")
        .order_by("found_at", "pk")
    )
    return [_impairment(visit, one) for one in found]


def _impairment(visit: Visit, one: Finding) -> dict[str, Any]:
    zone = ZoneInfo(visit.building.time_zone)

    def clock(at: datetime | None) -> str | None:
        return at.astimezone(zone).isoformat() if at else None

    rounds = sorted(one.watchround_set.all(), key=lambda walked: walked.walked_at)
    told = [
        (given.given_at, given.whom, given.duty, given.text) for given in one.noticegiven_set.all()
    ]
    told += [
        (step.at, step.whom, str(step.get_kind_display()), step.text)
        for step in one.findingstep_set.all()
        if step.whom
    ]
    end = one.back_at or visit.handed_in_at
    return {
        "title": one.title,
        "what": one.out_what or (str(one.device) if one.device else "") or one.title,
        "began_at": clock(one.out_from),
        "back_at": clock(one.back_at),
        "is_over": one.back_at is not None or one.corrected_on is not None,
        "hours": round((end - one.out_from).total_seconds() / 3600, 1)
        if end is not None and end >= one.out_from
        else None,
        "measures": [
            step.text
            for step in sorted(one.findingstep_set.all(), key=lambda step: (step.at, step.pk))
            if step.text
        ],
        "rounds": len(rounds),
        "first_round_at": clock(rounds[0].walked_at) if rounds else None,
        "last_round_at": clock(rounds[-1].walked_at) if rounds else None,
        "watched_by": list(dict.fromkeys(walked.name for walked in rounds)),
        "told": [
            {"at": clock(at), "whom": whom, "what": what, "text": text}
            for at, whom, what, text in sorted(told)
        ],
        "corrected_on": one.corrected_on.isoformat() if one.corrected_on else None,
        "correction": one.correction,
        "proof": one.proof,
    }
