"""What falls due over the firm, as a page and as CSV; and why one date is what it is."""

from collections import Counter
from uuid import UUID

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from contractor.due import explained, words
from contractor.due import queries as due
from contractor.register import queries as register
from contractor.schedule import choosing, drawings, exporting, lines
from contractor.tenancy import queries as tenancy
from contractor.tenancy.permissions import Permission
from contractor.web import exports
from contractor.web.door import FirmRequest, firm_view, or_404

ROWS = 50


def _asked(request: FirmRequest) -> choosing.Asked:
    return choosing.read(
        request.GET,
        buildings=register.list_building_names(firm_id=request.firm.pk),
        people=[(m.pk, m.name) for m in tenancy.list_members(firm_id=request.firm.pk)],
    )


@firm_view(Permission.READ)
@require_safe
def falling(request: FirmRequest) -> HttpResponse:
    """List what falls due, by building and task, the earliest first."""
    today = timezone.localdate()
    asked = _asked(request)
    found = choosing.choose(firm_id=request.firm.pk, asked=asked, today=today)
    page = Paginator(found.shown, ROWS).get_page(request.GET.get("page"))
    booked = choosing.list_booked(firm_id=request.firm.pk, shown=page, today=today)
    year = drawings.rule(today=today)
    areas = []
    if asked.building:
        building = register.get_building(firm_id=request.firm.pk, building_id=asked.building)
        areas = [(str(one.area.pk), one.name) for one in register.list_places(building=building)]
    counts = Counter(line.state for line in found.lines)
    context = {
        "today": today,
        "asked": asked,
        "fields": choosing.fields(
            asked=asked,
            areas=areas,
            towns=lines.list_towns(firm_id=request.firm.pk),
            tasks=choosing.list_tasks(firm_id=request.firm.pk),
        ),
        "page": page,
        "rows": [
            (
                line,
                drawings.window_bar(line=line, booking=booked.get(line.building_id), year=year),
                booked.get(line.building_id),
            )
            for line in page
        ],
        "axis": drawings.window_axis(year=year),
        "states": [(key, said, counts[key]) for key, said in words.STATES.items()],
        "state_links": [
            (key, said, counts[key], asked.address(state=key))
            for key, said in words.STATES.items()
            if counts[key] or asked.state == key
        ],
        "all_states": asked.address(state=""),
        "months": drawings.months(found=found.lines, asked=asked, today=today),
        "answer": choosing.say_answer(found.lines, asked=asked),
        "shared": choosing.say_shared(found.lines),
        "total": len(found.lines),
    }
    return render(request, "schedule/due.html", context)


@firm_view(Permission.READ)
@require_safe
def rows(request: FirmRequest) -> HttpResponse:
    """Give the rows of the list as CSV or XLSX, under the same choice."""
    today = timezone.localdate()
    found = choosing.choose(firm_id=request.firm.pk, asked=_asked(request), today=today)
    return exports.as_file(
        exports.asked(request),
        name=f"due-{today}",
        heads=exporting.HEADS,
        rows=exporting.list_rows(
            found.shown,
            booked=choosing.list_booked(firm_id=request.firm.pk, shown=found.shown, today=today),
        ),
    )


@firm_view(Permission.READ)
@require_safe
def why(request: FirmRequest, due_id: UUID) -> HttpResponse:
    """Say why a date is what it is; in place where htmx asks."""
    found = or_404(due.get_due, due.Missing, firm_id=request.firm.pk, due_id=due_id)
    today = found.building.day_at(timezone.now())
    said = explained.explain(found)
    same = lines.list_same(due=found)
    state = words.judge(
        basis=found.basis, earliest_on=found.earliest_on, latest_on=found.latest_on, today=today
    )
    context = {
        "due": found,
        "why": said,
        "today": today,
        "drawn": words.DRAWN[state],
        "state_words": words.STATES[state],
        "from_memory": "from memory" in said.standing,
        "basis": words.BASIS.get(found.basis, ""),
        "same": same,
        "others": [
            line
            for line in lines.list_lines(
                firm_id=request.firm.pk,
                today=today,
                part="all",
                building_id=found.building_id,
                task=found.task,
            )
            if line.latest_on != found.latest_on or line.basis != found.basis
        ],
        "section": "Due",
    }
    in_place = bool(request.htmx)  # type: ignore[attr-defined]
    template = "schedule/why.html#reason" if in_place else "schedule/why.html"
    return render(request, template, context)
