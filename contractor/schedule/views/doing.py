"""How the firm is doing: on time, open findings by age, forecasts that came true."""

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from contractor.drift import drawings as drift_drawings
from contractor.drift import queries as drift
from contractor.findings import queries as findings
from contractor.schedule import doing, lines
from contractor.tenancy.permissions import Permission
from contractor.web.door import FirmRequest, firm_view


@firm_view(Permission.READ)
@require_safe
def how(request: FirmRequest) -> HttpResponse:
    """Show three drawings, each with the table behind it."""
    firm_id = request.firm.pk
    today = timezone.localdate()
    dates = doing.on_time(lines.list_lines(firm_id=firm_id, today=today))
    known, in_time, unknown = doing.say_on_time(dates)
    ages = doing.by_age(findings.list_ages(firm_id=firm_id), today=today)
    days = drift.list_days_said(firm_id=firm_id)
    chosen = drift.choose_day(days=days, wanted="", today=today)
    outcomes = drift.load_outcomes(firm_id=firm_id, day=chosen) if chosen else None
    came = drift.judge(outcomes) if outcomes else None
    context = {
        "today": today,
        "dates": dates,
        "dates_drawn": doing.draw_on_time(dates),
        "known": known,
        "in_time": in_time,
        "share": in_time / known if known else None,
        "unknown": unknown,
        "ages": ages,
        "ages_drawn": doing.draw_ages(ages),
        "open": sum(row.total for row in ages),
        "old": sum(row.total for row in ages[2:]),
        "chosen": chosen,
        "came": came if came and came.count else None,
        "came_drawn": drift_drawings.said_and_came(came) if came and came.count else None,
        "section": "More",
    }
    return render(request, "schedule/doing.html", context)
