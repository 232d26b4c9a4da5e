"""The page of one detector, and the answers to what looks sudden on it."""

from datetime import date, timedelta
from math import isfinite
from typing import TYPE_CHECKING
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from contractor.drift import drawings, forms, packing, queries, services
from contractor.due import queries as due
from contractor.due import words
from contractor.engine import editions
from contractor.findings import queries as findings
from contractor.labels import queries as labels
from contractor.readings import queries as readings
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.visits import queries as visits
from contractor.web.door import FirmRequest, firm_view, or_404

if TYPE_CHECKING:
    from contractor.readings.models import Reading
    from contractor.register.models import Device


@firm_view(Permission.READ)
def device(request: FirmRequest, device_id: UUID) -> HttpResponse:
    """Show one device: where it stands, how it has drifted, when it must be tested again."""
    found = or_404(
        register.get_device, register.Missing, firm_id=request.firm.pk, device_id=device_id
    )
    today = found.building.day_at(timezone.now())
    context = {
        "device": found,
        "today": today,
        "due": due.find_due(device=found),
        "edition": editions.get(found.building.edition),
        "dues": [(one, *words.say_due(one, today=today)) for one in due.list_due_of(device=found)],
        "findings": list(findings.list_of_device(device=found)),
        "labels": labels.list_labels_of(device=found),
        "section": "Buildings",
    }
    if found.is_sensitive:
        context |= _sensitivity(found=found, today=today)
    return render(request, "drift/device.html", context)


def _sensitivity(*, found: "Device", today: date) -> dict[str, object]:
    runs = readings.list_runs(device=found)
    before = readings.list_runs(device=found.replaces) if found.replaces else []
    planned = visits.list_planned_days(building=found.building, since=today)
    outlook = queries.find_outlook_of(device=found, today=today)
    history = drawings.history(
        device=found,
        before=before,
        runs=runs,
        outlook=outlook,
        visits=planned[:2],
        today=today,
        sudden=drawings.sudden(outlook=outlook),
    )
    rows = [
        (reading, _note(reading)) for run in reversed(runs) for reading in reversed(run.readings)
    ]
    second = outlook.second_opinion() if outlook else None
    next_visit = queries.list_next_visits(
        firm_id=found.firm_id, building_ids=[found.building_id], today=today
    )[found.building_id]
    return {
        "bar": drawings.range_bar(device=found),
        "history": history,
        "outlook": outlook,
        "run": runs[-1] if runs else None,
        "rows": rows,
        "a_year_on": today + timedelta(days=365),
        "next_visit": planned[0] if planned else None,
        "until": next_visit,
        "chance": outlook.chance_by(next_visit.on) if outlook else None,
        "second": second,
        "second_bounded": second is not None and isfinite(second.low) and isfinite(second.high),
        "second_on": packing.day_of(second.crossing(float(outlook.fleet.limit[outlook.at])))
        if second and outlook
        else None,
        "questions": list(queries.list_questions(firm_id=found.firm_id, device=found)),
        "answered": list(queries.list_answered(device=found)),
    }


def _note(reading: "Reading") -> str:
    parts = [
        gettext(reading.get_stage_display()),
        gettext("test") if reading.is_test else gettext("extra reading"),
    ]
    if reading.override_reason:
        said = gettext("judged otherwise: %(reason)s")
        parts.append(said % {"reason": reading.override_reason})
    return ", ".join(parts)


@firm_view(Permission.MANAGE)
@require_POST
def answer(request: FirmRequest, question_id: UUID) -> HttpResponse:
    """Take down what a person says of something that looks sudden."""
    question = or_404(
        queries.get_question, queries.Missing, firm_id=request.firm.pk, question_id=question_id
    )
    form = forms.Answered(request.POST)
    if not form.is_valid():
        messages.error(request, "Say yes or no, and the day as year-month-day.")
    else:
        try:
            services.answer(
                question=question, member=request.member, now=timezone.now(), **form.cleaned_data
            )
        except services.UnableToAnswer as error:
            messages.error(request, str(error))
        else:
            messages.success(request, "Written down. The forecast is being renewed.")
    return redirect("register:device", firm=request.firm.slug, device_id=question.device_id)
