"""A building's unwanted-alarm record: read it, add to it, take back, say that there was none."""

from datetime import date
from typing import TYPE_CHECKING
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib import messages
from django.core.paginator import Paginator
from django.forms import Form
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from contractor.alarms import drawings, forms, queries, services
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web.charts import pen
from contractor.web.door import FirmRequest, firm_view, or_404

if TYPE_CHECKING:
    from contractor.register.models import Building


def _building(request: FirmRequest, building_id: UUID) -> "Building":
    return or_404(
        register.get_building, register.Missing, firm_id=request.firm.pk, building_id=building_id
    )


def _back(request: FirmRequest, building_id: UUID) -> HttpResponseRedirect:
    return redirect("alarms:list", firm=request.firm.slug, building_id=building_id)


@firm_view(Permission.RECORD_TESTS)
def alarms(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Show a building's record month by month and entry by entry, and write an alarm down."""
    building = _building(request, building_id)
    now = timezone.now()
    form = forms.WriteDown(
        request.POST or None,
        places=register.list_places(building=building),
        zone=building.time_zone,
        initial={"by_detector": "yes", "judged_by": request.member.name},
    )
    if request.method == "POST" and form.is_valid():
        try:
            services.record_alarm(building=building, member=request.member, now=now, **form.said())
        except services.UnableToRecord as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, "Written down. Due dates are being renewed.")
            return _back(request, building.pk)
    today = building.day_at(now)
    log = queries.follow_log(building=building, today=today)
    context = {
        "building": building,
        "page": Paginator(queries.list_entries(building=building), 60).get_page(
            request.GET.get("page")
        ),
        "form": form,
        "record": drawings.record(log),
        "asked": [month for month in log if month.state == "asked"],
        "running": [month for month in log if month.state == "running"],
        "missing": [month for month in reversed(log) if month.state == "missing"],
        "late": sum(month.is_late for month in log),
        "statements": queries.list_statements(building=building)[:6],
        "suggestion": services.suggest_log_since(building=building, log=log),
        "today": today,
        "section": "Buildings",
    }
    return render(request, "alarms/list.html", context, status=422 if form.errors else 200)


@firm_view(Permission.RECORD_TESTS)
@require_POST
def none(request: FirmRequest, building_id: UUID) -> HttpResponse:
    """Say that a month had no unwanted alarm."""
    building = _building(request, building_id)
    try:
        month = date.fromisoformat(request.POST.get("month", ""))
        said = services.say_none(
            building=building, month=month, member=request.member, now=timezone.now()
        )
    except services.UnableToRecord as error:
        messages.error(request, str(error))
    except ValueError:
        messages.error(request, "Choose the month that had no alarm.")
    else:
        messages.success(
            request,
            gettext("Written down: no unwanted alarm up to %(through)s.")
            % {"through": pen.say_day(said.through)},
        )
    return _back(request, building.pk)


@firm_view(Permission.RECORD_TESTS)
def entry(request: FirmRequest, alarm_id: UUID) -> HttpResponse:
    """Show one entry; withdraw it, or write it anew."""
    alarm = or_404(queries.get_alarm, queries.Missing, firm_id=request.firm.pk, alarm_id=alarm_id)
    building = alarm.building
    asked = request.POST.get("do", "")
    zone = ZoneInfo(building.time_zone)
    yes_or_no = {True: "yes", False: "no", None: ""}
    correction = forms.Correction(
        request.POST if asked == "correct" else None,
        places=register.list_places(building=building),
        zone=building.time_zone,
        initial={
            "happened_at": alarm.happened_at.astimezone(zone),
            "area": str(alarm.area_id or ""),
            "address": alarm.device.address if alarm.device else "",
            "cause": alarm.cause,
            "by_detector": yes_or_no[alarm.by_detector],
            "circumstances": alarm.circumstances,
            "action": alarm.action,
            "judged_by": alarm.judged_by,
            "fire_service_came": yes_or_no[alarm.fire_service_came],
        },
    )
    reason = forms.Reason(request.POST if asked == "withdraw" else None, prefix="w")
    form: Form = correction if asked == "correct" else reason
    if request.method == "POST" and form.is_valid():
        why, now = form.cleaned_data["reason"], timezone.now()
        try:
            if asked == "correct":
                services.correct_alarm(
                    alarm=alarm, reason=why, member=request.member, now=now, **correction.said()
                )
            else:
                services.withdraw_alarm(alarm=alarm, reason=why, member=request.member, now=now)
        except services.UnableToRecord as error:
            form.add_error(None, str(error))
        else:
            said = gettext("Written anew") if asked == "correct" else gettext("Withdrawn")
            messages.success(
                request,
                gettext("%(value)s. The first entry stays on record. Due dates are being renewed.")
                % {"value": said},
            )
            return _back(request, building.pk)
    context = {
        "alarm": alarm,
        "building": building,
        "correction": correction,
        "reason": reason,
        "section": "Buildings",
    }
    status = 422 if request.method == "POST" and form.errors else 200
    return render(request, "alarms/entry.html", context, status=status)


@firm_view(Permission.RECORD_TESTS)
@require_POST
def withdraw_none(request: FirmRequest, statement_id: UUID) -> HttpResponse:
    """Take back that a month had no unwanted alarm."""
    statement = or_404(
        queries.get_statement,
        queries.Missing,
        firm_id=request.firm.pk,
        statement_id=statement_id,
    )
    try:
        services.withdraw_statement(
            statement=statement,
            reason=request.POST.get("reason", ""),
            member=request.member,
            now=timezone.now(),
        )
    except services.UnableToRecord as error:
        messages.error(request, str(error))
    else:
        messages.success(
            request,
            gettext("Withdrawn: %(month)s is open again.")
            % {"month": date_format(statement.month, "F Y")},
        )
    return _back(request, statement.building_id)
