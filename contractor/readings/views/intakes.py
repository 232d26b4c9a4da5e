"""Take in a print-out, look at what was understood, accept it, undo it."""

from collections import Counter
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from contractor.engine import layouts
from contractor.readings import forms, queries, services
from contractor.readings.views import wording
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web import charts
from contractor.web.door import FirmRequest, firm_view, or_404
from contractor.web.exports import as_file, asked

#: More strokes than this cannot be told apart.
MOST_STROKES = 400
_DRAWN = {queries.LEFT_OUT: "later"}
_WORST_FIRST = ("problem", "new", "changed", "same", "later")


@firm_view(Permission.MANAGE)
def take_in(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Take in a file for one of a building's systems."""
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    systems = list(register.list_systems(building=building))
    form = forms.TakeIn(request.POST or None, request.FILES or None)
    chosen = request.POST.get("system", "")
    if request.method == "POST" and form.is_valid():
        upload = form.cleaned_data["file"]
        system = next((s for s in systems if str(s.pk) == chosen), systems[0] if systems else None)
        try:
            services.check_size(upload.size)
            if system is None:
                raise services.UnableToTakeIn(
                    gettext("%(name)s has no alarm system yet.") % {"name": building.name}
                )
            intake = services.take_in(
                building=building,
                system=system,
                filename=upload.name,
                data=upload.read(),
                member=request.member,
                now=timezone.now(),
            )
        except services.UnableToTakeIn as error:
            form.add_error("file", str(error))
        else:
            return redirect("readings:intake", firm=request.firm.slug, intake_id=intake.pk)
    context = {
        "building": building,
        "systems": systems,
        "chosen": chosen,
        "form": form,
        "section": "Buildings",
    }
    status = 422 if form.errors else 200
    return render(request, "readings/take_in.html", context, status=status)


def _get(request: FirmRequest, intake_id: UUID):  # type: ignore[no-untyped-def]
    return or_404(queries.get_intake, queries.Missing, firm_id=request.firm.pk, intake_id=intake_id)


@firm_view(Permission.READ)
def intake(request: FirmRequest, intake_id: UUID) -> HttpResponse:
    """Show what was understood of a file, row by row."""
    found = _get(request, intake_id)
    return _show(request, found, forms.Accept())


def _show(request: FirmRequest, found, form: forms.Accept, status: int = 200) -> HttpResponse:  # type: ignore[no-untyped-def]
    outcomes = queries.list_outcomes(intake=found)
    counts = Counter(outcomes)
    every = queries.list_rows(intake=found)
    show = request.GET.get("show", "")
    if show not in queries.SHOWN:
        show = "different" if counts.get("same", 0) < len(outcomes) else "all"
    narrowed = queries.narrow_rows(rows=every, show=show)
    page = Paginator(narrowed, 100).get_page(request.GET.get("page"))
    good = len(outcomes) - counts["problem"] - counts[queries.LEFT_OUT]
    shown = queries.count_shown(intake=found)
    judged = found.kind == "sensitivity"
    filters = [
        (key, words, shown[key])
        for key, words in queries.SHOWN.items()
        if judged or key != "asking"
    ]
    asked_of = [problem for problem in found.problems if problem["kind"] == "asked"]
    of_columns = {one["column"]: one["about"] for one in asked_of if one["column"] is not None}
    needs_day = queries.lacks_day(intake=found)
    form.fields["taken_on"].required = needs_day  # as shown; what is sent is judged by its rows
    context = {
        "intake": found,
        "counts": counts,
        "total": len(outcomes),
        "good": good,
        "strokes": _strokes(outcomes),
        "columns": [wording.in_words(column, asked=of_columns) for column in found.columns],
        "meanings": wording.MEANINGS,
        "warnings": [p for p in found.problems if p["kind"] == "mixed"],
        "asked": asked_of,
        "rest_kind": found.mapping.get(layouts.REST_KIND, ""),
        "asks_kind": any(one["about"] == "kind" for one in asked_of),
        "rest_kinds": wording.REST_KINDS,
        "needs_day": needs_day,
        "stays": [p for p in found.problems if p["kind"] == "stays"],
        "said": [p for p in found.problems if p["kind"] == "file"],
        "page": page,
        "lines": [(one, services.list_choices(row=one)) for one in page],
        "show": show,
        "here": f"?show={show}&page={page.number}",
        "may_decide": request.may(Permission.MANAGE),
        "filters": filters,
        "form": form,
        "products": register.list_products(firm_id=request.firm.pk),
        "days_to_undo": services.DAYS_TO_UNDO,
        "may_undo": services.may_undo(intake=found, now=timezone.now()),
        "is_draft": found.state == "draft",
        "section": "Buildings",
    }
    return render(request, "readings/intake.html", context, status=status)


def _strokes(outcomes: list[str]) -> charts.Strokes:
    """Draw each row, or the worst of a few rows where there are too many for a stroke each."""
    each = -(-len(outcomes) // MOST_STROKES)
    drawn = [_DRAWN.get(outcome, outcome) for outcome in outcomes]
    if each > 1:
        drawn = [
            min(drawn[at : at + each], key=_WORST_FIRST.index) for at in range(0, len(drawn), each)
        ]
    return charts.Strokes(states=tuple(drawn), each=max(each, 1))


@firm_view(Permission.MANAGE)
@require_POST
def meanings(request: FirmRequest, intake_id: UUID) -> HttpResponse:
    """Understand the file again, with meanings, units and the order of dates as chosen."""
    found = _get(request, intake_id)
    mapping: dict[str, object] = {}
    for column in found.columns:
        meaning = request.POST.get(f"meaning-{column['index']}")
        if meaning is None:
            continue
        unit = request.POST.get(f"unit-{column['index']}", "")
        taken = column["meaning"] if column["confidence"] >= layouts.LOOK_ONCE else ""
        if meaning != taken or unit != column["unit"]:
            key = layouts.column_key(column["index"], column["header"])
            mapping[key] = {"meaning": meaning, "unit": unit}
    if request.POST.get("rest_kind") in wording.REST_KINDS:
        mapping[layouts.REST_KIND] = request.POST["rest_kind"]
    if request.POST.get("date_order") in ("mdy", "dmy"):
        mapping["date_order"] = request.POST["date_order"]
    try:
        services.choose_meanings(
            intake=found,
            mapping=mapping,
            member=request.member,
            now=timezone.now(),
            only_this_once=request.POST.get("hold") == "once",
        )
    except (services.UnableToAccept, services.UnableToTakeIn) as error:
        messages.error(request, str(error))
    return redirect("readings:intake", firm=request.firm.slug, intake_id=found.pk)


@firm_view(Permission.MANAGE)
def row(request: FirmRequest, intake_id: UUID, row_id: UUID) -> HttpResponse:
    """Correct one row of a draft: in the list where scripts run, on a page of its own elsewhere."""
    found = _get(request, intake_id)
    one = or_404(queries.get_row, queries.Missing, intake=found, row_id=row_id)
    problem = ""
    if request.method == "POST":
        said = {name: request.POST[name] for name in _SAYABLE if name in request.POST}
        try:
            services.correct_row(
                intake=found, row=one, said=said, member=request.member, now=timezone.now()
            )
        except services.UnableToAccept as error:
            problem = str(error)
        else:
            back = request.POST.get("back", "")
            response = redirect("readings:intake", firm=request.firm.slug, intake_id=found.pk)
            response["Location"] += f"{back if back.startswith('?') else ''}#row-{one.number}"
            return response
    context = {
        "intake": found,
        "row": one,
        "fields": _fields(one, request.POST),
        "said": one.corrected,
        "problem": problem,
        "products": register.list_products(firm_id=request.firm.pk),
        "back": request.POST.get("back") or request.GET.get("back", ""),
        "section": "Buildings",
    }
    if not request.headers.get("HX-Request"):
        return render(request, "readings/row.html", context, status=422 if problem else 200)
    fragment = render(request, "readings/_row_form.html", context)
    if problem:  # the form asked for the whole page; it gets itself back instead
        fragment["HX-Retarget"] = fragment["HX-Reselect"] = f"#row-{one.number}"
    return fragment


#: What can be said of a row.
_FIELDS = (
    ("address", "address", ""),
    ("label", "label", ""),
    ("setting", "alarm point as set", "%/ft"),
    ("measured", "alarm point as measured", "%/ft"),
    ("drift", "corrected by the control unit", "%/ft"),
    ("now", "present level", "%/ft"),
    ("limit", "most that may be corrected", "%/ft"),
    ("used", "allowance used", "%"),
    ("marked_low", "marked from", "%/ft"),
    ("marked_high", "marked to", "%/ft"),
    ("taken_on", "read on", "YYYY-MM-DD"),
)
_ALWAYS = {"address", "label", "setting", "measured", "drift"}
_SAYABLE = [name for name, _, _ in _FIELDS] + ["cleaned", "keep_label", "product", "leave_out"]


def _fields(one, typed) -> list[dict[str, str]]:  # type: ignore[no-untyped-def]
    """Give the fields of a row's form; empty where a cell could not be read and nobody answered."""
    asked = {about for about, _ in one.understood.get("problems", [])}
    said = one.understood | one.corrected
    fields = []
    for name, words, unit in _FIELDS:
        value = said.get(name)
        if value is None and name not in _ALWAYS | asked:
            continue
        if name in asked and name not in one.corrected:
            value = None
        if isinstance(value, int | float):
            value = services.shown(100 * value if name == "used" else value)
        fields.append(
            {"name": name, "words": words, "unit": unit, "value": typed.get(name, value or "")}
        )
    return fields


@firm_view(Permission.MANAGE)
@require_POST
def accept(request: FirmRequest, intake_id: UUID) -> HttpResponse:
    """Accept the good rows, or all of them."""
    found = _get(request, intake_id)
    form = forms.Accept(request.POST)
    if form.is_valid():
        said = form.cleaned_data
        try:
            services.accept(
                intake=found,
                member=request.member,
                now=timezone.now(),
                is_test=said["accept_as"] == "test",
                method=said["method"] if said["accept_as"] == "test" else "",
                taken_on=said["taken_on"],
                good_rows_only=request.POST.get("rows") != "all",
                is_sure=said["is_sure"],
            )
        except services.UnableToAccept as error:
            form.add_error(None, str(error))
        else:
            messages.success(
                request,
                "Accepted. Forecasts and due dates of this building are being renewed.",
            )
            return redirect("readings:intake", firm=request.firm.slug, intake_id=found.pk)
    return _show(request, found, form, status=422)


@firm_view(Permission.MANAGE)
@require_POST
def put_aside(request: FirmRequest, intake_id: UUID) -> HttpResponse:
    """Put a draft aside."""
    found = _get(request, intake_id)
    try:
        services.put_aside(intake=found, member=request.member, now=timezone.now())
    except services.UnableToAccept as error:
        messages.error(request, str(error))
    return redirect("register:building", firm=request.firm.slug, building_id=found.building_id)


@firm_view(Permission.MANAGE)
@require_POST
def undo(request: FirmRequest, intake_id: UUID) -> HttpResponse:
    """Undo an accepted print-out as a whole."""
    found = _get(request, intake_id)
    try:
        _, stays = services.undo(intake=found, member=request.member, now=timezone.now())
    except services.UnableToUndo as error:
        messages.error(request, str(error))
    else:
        messages.success(request, "Undone, but for what is listed below." if stays else "Undone.")
    return redirect("readings:intake", firm=request.firm.slug, intake_id=found.pk)


@firm_view(Permission.READ)
def original(request: FirmRequest, intake_id: UUID) -> HttpResponse:
    """Give the very bytes that came in."""
    found = _get(request, intake_id)
    try:
        data = services.fetch_original(intake=found)
    except FileNotFoundError:
        raise Http404 from None
    # Never shown in the browser: what strangers sent is only ever saved.
    response = HttpResponse(data, content_type="application/octet-stream")
    response["Content-Disposition"] = content_disposition_header(True, found.filename)
    return response


@firm_view(Permission.READ)
def problems(request: FirmRequest, intake_id: UUID) -> HttpResponse:
    """Give every problem of a file at once, as CSV."""
    found = _get(request, intake_id)
    rows: list[list[object]] = [["", "", "", said["sentence"], ""] for said in found.problems]
    for one in queries.narrow_rows(rows=queries.list_rows(intake=found), show="problem"):
        named = [one.understood.get("address"), one.understood.get("label")]
        as_printed = " | ".join(one.cells)
        rows += [[one.number, *named, sentence, as_printed] for sentence in one.differs]
    heads = ["row", "address", "label", "what is so", "as printed"]
    return as_file(asked(request), name="problems", heads=heads, rows=rows)
