"""The page of a battery set, its forms, and the lists of a building and of the firm."""

from collections.abc import Iterable
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any
from uuid import UUID

from django import forms as django_forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from contractor.engine import battery as engine
from contractor.engine import battery_standing, editions
from contractor.findings import queries as findings
from contractor.power import answers, drawings, forms, queries, services
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web import exports
from contractor.web.door import FirmRequest, firm_view, or_404

if TYPE_CHECKING:
    from contractor.register.models import Device

_ROWS = 60


@firm_view(Permission.READ)
def firm(request: FirmRequest) -> HttpResponse:
    """List the firm's battery sets, the worst first."""
    lines = queries.list_lines(firm_id=request.firm.pk, now=timezone.now())
    show = "asking" if request.GET.get("show") == "asking" else "all"
    asking = [line for line in lines if line.standing.key != "keep"]
    shown = asking if show == "asking" else lines
    if form := exports.asked(request):
        return _as_file(form, shown)
    page = Paginator(shown, _ROWS).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": _rows(page),
        "show": show,
        "total": len(lines),
        "counts": _count(lines),
        "section": "Buildings",
    }
    return render(request, "power/firm.html", context)


@firm_view(Permission.READ)
def sets(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """List one building's battery sets, the worst first."""
    building = or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )
    lines = queries.list_lines(firm_id=request.firm.pk, now=timezone.now(), building=building)
    held = editions.get(building.edition)
    page = Paginator(lines, _ROWS).get_page(request.GET.get("page"))
    context = {
        "building": building,
        "page": page,
        "rows": _rows(page),
        "total": len(lines),
        "counts": _count(lines),
        "edition": held,
        "rule": held.battery,
        "section": "Buildings",
    }
    return render(request, "power/list.html", context)


def _as_file(form: str, lines: Iterable[queries.Line]) -> HttpResponse:
    """Give sets as a file, each with what it must hold, its age, its latest test."""
    return exports.as_file(
        form,
        name="batteries",
        heads=[
            "building", "address", "label", "where it stands", "why", "made", "age in months",
            "asked Ah", "fitted Ah", "last test", "next test by",
        ],
        rows=(
            [
                line.device.building.name,
                line.device.address,
                line.device.label,
                words,
                " ".join(line.standing.reasons),
                line.facts.manufactured_on,
                line.months,
                round(line.sizing.required_ah, 2) if line.sizing else None,
                line.facts.installed_ah,
                line.last_on,
                line.next_on,
            ]
            for line, _, words in _rows(lines)
        ),
    )  # fmt: skip


def _rows(lines: Iterable[queries.Line]) -> list[tuple[queries.Line, str, str]]:
    """Join to each set the shape and the words of where it stands."""
    return [(line, *answers.STATES[line.standing.key]) for line in lines]


def _count(lines: list[queries.Line]) -> list[tuple[str, str, int]]:
    """Count the sets by where they stand, the worst first: shape, words, count."""
    found: dict[str, int] = dict.fromkeys(answers.STATES, 0)
    for line in lines:
        found[line.standing.key] += 1
    return [(*answers.STATES[key], count) for key, count in found.items() if count]


@firm_view(Permission.READ)
def battery(request: FirmRequest, device_id: UUID) -> HttpResponse:
    """Show one battery set: what it must hold, its age, its tests, what to do; and try loads."""
    device = _get(request, device_id)
    line = queries.find_line(device=device, now=timezone.now())
    edition = device.building.edition
    history = list(queries.list_history(device=device))
    counted = [test for test in history if test.withdrawal_or_none is None]
    facts, sizing = line.facts, line.sizing
    context = {
        "device": device,
        "line": line,
        "shape": answers.STATES[line.standing.key],
        "next_tests": [
            (one, answers.PARTS[one.part], _due(one, line.today)) for one in line.next_tests
        ],
        "edition": editions.get(edition),
        "size_said": answers.say_size(sizing, edition=edition),
        "sum": answers.say_sum(sizing, standby_a=facts.standby_a, alarm_a=facts.alarm_a)
        if sizing is not None and facts.standby_a is not None and facts.alarm_a is not None
        else "",
        "bar": drawings.bar(sizing, facts=facts),
        "deed": answers.say_deed(line),
        "changes": answers.would_change(
            facts,
            sizing,
            edition=edition,
            capacity_share=next(
                (one.capacity_share for one in counted if one.capacity_share is not None), None
            ),
        ),
        "make_up": answers.say_make_up(facts),
        "chemistry": answers.CHEMISTRIES.get(facts.chemistry, facts.chemistry),
        "age": answers.say_age(line.months),
        "replace_by": engine.replace_by(
            edition=edition,
            manufactured_on=facts.manufactured_on,
            installed_on=facts.installed_on,
        ),
        "lines": drawings.lines(tests=counted, facts=facts, edition=edition, today=line.today),
        "history": [
            (test, *answers.STATES[test.state], editions.get(test.edition).title)
            for test in history
        ],
        "findings": list(findings.list_of_device(device=device)),
        "can_record": request.may(Permission.RECORD_TESTS),
        "what_if": _what_if(request, facts, edition),
        "section": "Buildings",
    }
    return render(request, "power/battery.html", context)


#: From so many days before its last day on a test without an earliest day is due. Our choice.
_SOON = timedelta(days=240)


def _due(one: battery_standing.NextTest, today: date) -> str:
    """Name the shape of when a test is due."""
    if one.window is None:
        return "due"
    if one.window.latest < today:
        return "overdue"
    is_open = one.window.earliest <= today and one.window.latest - today <= _SOON
    return "due" if is_open else "later"


def _what_if(request: FirmRequest, facts: queries.Facts, edition: str) -> dict[str, Any]:
    """Work out the loads in the address, without keeping them."""
    initial = {
        "standby_a": facts.standby_a,
        "alarm_a": facts.alarm_a,
        "rated_ah": facts.rated_ah,
        "parallel": facts.parallel,
        "voice": facts.voice,
        "edition": edition,
    }
    if "standby_a" not in request.GET:
        return {"form": forms.WhatIf(initial=initial)}
    form = forms.WhatIf(request.GET)
    if not form.is_valid():
        return {"form": form}
    tried = form.cleaned_data
    try:
        sizing = engine.size_set(**tried)
    except ValueError as error:
        form.add_error(None, str(error))
        return {"form": form}
    return {
        "form": form,
        "sizing": sizing,
        "said": answers.say_size(sizing, edition=tried["edition"]),
        "sum": answers.say_sum(sizing, standby_a=tried["standby_a"], alarm_a=tried["alarm_a"]),
        "bar": drawings.size_bar(sizing),
        "edition": editions.get(tried["edition"]),
        "keep": request.GET.urlencode(),
    }


@firm_view(Permission.RECORD_TESTS)
def describe(request: FirmRequest, device_id: UUID) -> HttpResponse:
    """Say what a battery set is and what it must carry."""
    device = _get(request, device_id)
    facts = queries.find_facts(device=device)
    form = forms.Describe(request.POST or None, initial=_initial(facts, tried=request.GET))
    if request.method == "POST" and form.is_valid():
        try:
            services.describe_battery(
                device=device, facts=form.facts(), member=request.member, now=timezone.now()
            )
        except services.UnableToDescribe as refused:
            _add_problems(form, refused.problems)
        else:
            messages.success(request, "Kept. Due dates of this building are being renewed.")
            return redirect("power:battery", firm=request.firm.slug, device_id=device.pk)
    context = {"device": device, "form": form, "section": "Buildings"}
    return render(request, "power/describe.html", context)


def _initial(facts: queries.Facts, *, tried: Any) -> dict[str, Any]:
    """Begin with what is known, and with the loads that were tried."""
    initial = {name: getattr(facts, name, None) for name in forms.Describe.base_fields}
    for name, ends in (
        ("maker_float", facts.maker_float_v),
        ("maker_gravity", facts.maker_gravity),
    ):
        suffix = "_v" if name == "maker_float" else ""
        for end, value in zip(("low", "high"), ends or (None, None), strict=True):
            initial[f"{name}_{end}{suffix}"] = value
    for name in ("standby_a", "alarm_a", "rated_ah", "parallel", "voice"):
        if tried.get(name):
            initial[name] = tried[name]
    return initial


@firm_view(Permission.RECORD_TESTS)
def record(request: FirmRequest, device_id: UUID) -> HttpResponse:
    """Enter a test of a battery set."""
    device = _get(request, device_id)
    now = timezone.now()
    line = queries.find_line(device=device, now=now)
    instruments = register.list_instruments(firm_id=request.firm.pk)
    form = forms.RecordTest(request.POST or None, initial={"tested_on": line.today})
    chosen = request.POST.get("instrument", "")
    asks = "sure" in request.POST
    if request.method == "POST" and form.is_valid():
        try:
            test = services.record_battery_test(
                device=device,
                tested_on=form.cleaned_data["tested_on"],
                said=form.said(),
                remark=form.cleaned_data["remark"],
                instrument=next((one for one in instruments if str(one.pk) == chosen), None),
                member=request.member,
                now=now,
            )
        except services.UnableToRecord as refused:
            _add_problems(form, refused.problems)
            asks = refused.is_doubt
        else:
            word = answers.STATES[test.state][1]
            messages.success(
                request,
                gettext("Recorded: %(state)s. %(reason)s")
                % {"state": gettext(word), "reason": test.reason},
            )
            return redirect("power:battery", firm=request.firm.slug, device_id=device.pk)
    limits, floor = engine.limits_of(
        edition=device.building.edition,
        chemistry=line.facts.chemistry,
        cells=line.facts.cells * line.facts.series,
        maker_float_v=line.facts.whole_float_v,
        maker_load_v=line.facts.whole_load_v,
    )
    context = {
        "device": device,
        "line": line,
        "form": form,
        "instruments": instruments,
        "chosen": chosen,
        "asks": asks,
        "limits": limits,
        "floor": floor,
        "edition": editions.get(device.building.edition),
        "make_up": answers.say_make_up(line.facts),
        "asked": [answers.PARTS[one.part] for one in line.next_tests],
        "section": "Buildings",
    }
    return render(request, "power/record.html", context)


@firm_view(Permission.RECORD_TESTS)
@require_POST
def withdraw(request: FirmRequest, test_id: UUID) -> HttpResponse:
    """Take a test back."""
    test = or_404(queries.get_test, queries.Missing, firm_id=request.firm.pk, test_id=test_id)
    try:
        services.withdraw_battery_test(
            test=test,
            reason=request.POST.get("reason", ""),
            member=request.member,
            now=timezone.now(),
        )
    except services.UnableToRecord as refused:
        messages.error(request, str(refused))
    else:
        messages.success(
            request, "Taken back. It stays on record and counts no more. A finding stays open."
        )
    return redirect("power:battery", firm=request.firm.slug, device_id=test.device_id)


def _get(request: FirmRequest, device_id: UUID) -> "Device":
    return or_404(
        queries.get_battery, queries.Missing, firm_id=request.firm.pk, device_id=device_id
    )


def _add_problems(form: django_forms.Form, problems: dict[str, str]) -> None:
    for name, said in problems.items():
        form.add_error(name if name in form.fields else None, said)
