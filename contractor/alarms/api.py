"""The unwanted-alarm record for programs."""

from datetime import date
from typing import Any, ClassVar
from uuid import UUID

from django import forms as fields
from rest_framework.exceptions import ValidationError

from contractor.alarms import forms, queries, services
from contractor.programs.resource import Resource, operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.tenancy.days import Day
from contractor.tenancy.permissions import Permission

ALARM = Shape(
    "UnwantedAlarm",
    id="id",
    building_id="id",
    area_id="id?",
    device_id="id?",
    happened_at="instant",
    happened_on="day",
    cause="text",
    by_detector="flag?",
    circumstances="text",
    action="text",
    judged_by="text",
    fire_service_came="flag?",
    recorded_by="text:recorded_by_name",
    recorded_at="instant",
)
NONE = Shape(
    "NoneStatement",
    id="id",
    building_id="id",
    month="day",
    through="day",
    said_by="text:said_by_name",
    said_at="instant",
)
WITHDRAWN = Shape(
    "LogWithdrawal", id="id", alarm_id="id?", statement_id="id?", reason="text", at="instant"
)


class Month(fields.Form):
    """A month without an unwanted alarm."""

    month = Day(label="Its first day")


class _Alarms(Resource):
    group = "Unwanted alarms"
    refusals: ClassVar = (services.UnableToRecord,)
    missing: ClassVar = (*queries.Missing, *register.Missing)

    def building(self, building_id: UUID) -> Any:
        """The building of the address."""
        return self.get_or_404(register.get_building, building_id=building_id)

    def alarm(self, form: Any, building: Any) -> Any:
        """Read an alarm by the building's clock and areas."""
        places = register.list_places(building=building)
        return self.read(form, places=places, zone=building.time_zone)


class Alarms(_Alarms):
    """A building's unwanted alarms."""

    @operation(ALARM, many=True)
    def get(self, request: Any, building_id: UUID) -> Any:
        """List a building's unwanted alarms that count."""
        return self.page(queries.list_alarms(building=self.building(building_id)))

    @operation(
        ALARM,
        Permission.RECORD_TESTS,
        takes=forms.WriteDown,
        status=201,
        example={
            "happened_at": "2026-11-20T12:10",
            "cause": "nuisance",
            "by_detector": "yes",
            "circumstances": "Toast, level 1.",
            "judged_by": "T. Varsk",
        },
    )
    def post(self, request: Any, building_id: UUID) -> Any:
        """Write an unwanted alarm down; due dates are renewed."""
        building = self.building(building_id)
        said = self.alarm(forms.WriteDown, building).said()
        return services.record_alarm(building=building, **said, **self.now_and_member())


class Alarm(_Alarms):
    """One entry."""

    @operation(ALARM)
    def get(self, request: Any, alarm_id: UUID) -> Any:
        """Show an entry, withdrawn or not."""
        return self.get_or_404(queries.get_alarm, alarm_id=alarm_id)


class AlarmCorrection(_Alarms):
    """One entry written anew."""

    @operation(
        ALARM,
        Permission.RECORD_TESTS,
        takes=forms.Correction,
        status=201,
        example={
            "happened_at": "2026-09-04T09:40",
            "cause": "nuisance",
            "by_detector": "yes",
            "reason": "The hour was wrong.",
        },
    )
    def post(self, request: Any, alarm_id: UUID) -> Any:
        """Withdraw an entry and write another in its place; both stay on record."""
        found = self.get_or_404(queries.get_alarm, alarm_id=alarm_id)
        form = self.alarm(forms.Correction, found.building)
        said = form.said()
        return services.correct_alarm(
            alarm=found, **said | {"reason": form.cleaned_data["reason"]}, **self.now_and_member()
        )


class AlarmWithdrawal(_Alarms):
    """One entry withdrawn."""

    @operation(
        WITHDRAWN,
        Permission.RECORD_TESTS,
        takes=forms.Reason,
        status=201,
        example={"reason": "It was a drill."},
    )
    def post(self, request: Any, alarm_id: UUID) -> Any:
        """Take an entry back: it stays on record with the reason, and no longer counts."""
        found = self.get_or_404(queries.get_alarm, alarm_id=alarm_id)
        reason = self.read(forms.Reason).cleaned_data["reason"]
        return services.withdraw_alarm(alarm=found, reason=reason, **self.now_and_member())


class Nones(_Alarms):
    """Months without an unwanted alarm."""

    @operation(NONE, many=True)
    def get(self, request: Any, building_id: UUID) -> Any:
        """List what was said of months without an unwanted alarm."""
        return self.page(queries.list_statements(building=self.building(building_id)))

    @operation(
        NONE, Permission.RECORD_TESTS, takes=Month, status=201, example={"month": "2026-10-01"}
    )
    def post(self, request: Any, building_id: UUID) -> Any:
        """Say that a month had no unwanted alarm."""
        building = self.building(building_id)
        month: date = self.read(Month).cleaned_data["month"]
        if month.day != 1:
            raise ValidationError({"month": ["Give the first day of the month."]})
        return services.say_none(building=building, month=month, **self.now_and_member())


class NoneWithdrawal(_Alarms):
    """A statement withdrawn."""

    @operation(
        WITHDRAWN,
        Permission.RECORD_TESTS,
        takes=forms.Reason,
        status=201,
        example={"reason": "There was one on the 12th."},
    )
    def post(self, request: Any, statement_id: UUID) -> Any:
        """Take back that a month had no unwanted alarm: the month is open again."""
        found = self.get_or_404(queries.get_statement, statement_id=statement_id)
        reason = self.read(forms.Reason).cleaned_data["reason"]
        return services.withdraw_statement(statement=found, reason=reason, **self.now_and_member())
