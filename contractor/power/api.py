"""Standby batteries for programs."""

from typing import Any, ClassVar
from uuid import UUID

from django import forms as fields
from rest_framework.exceptions import ValidationError

from contractor.power import forms, queries, services
from contractor.programs.examples import key
from contractor.programs.resource import Filter, Resource, now, operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission

BATTERY = Shape(
    "BatterySet",
    device_id="id:device.id",
    building_id="id:device.building_id",
    address="text:device.address",
    label="text:device.label",
    chemistry="text:facts.chemistry",
    manufactured_on="day?:facts.manufactured_on",
    installed_on="day?:facts.installed_on",
    rated_ah="number?:facts.rated_ah",
    cells="whole:facts.cells",
    series="whole:facts.series",
    parallel="whole:facts.parallel",
    standby_a="number?:facts.standby_a",
    alarm_a="number?:facts.alarm_a",
    required_ah="number?:sizing.required_ah",
    standing="text:standing.key",
    age_months="whole?:months",
    last_tested_on="day?:last_on",
    next_test_on="day?:next_on",
)
TEST = Shape(
    "BatteryTest",
    id="id",
    device_id="id",
    tested_on="day",
    state="text",
    reason="text",
    note="text",
    edition="text",
    float_v="number?",
    charger_v="number?",
    load_v="number?",
    discharge_v="number?",
    discharge_min="number?",
    capacity_share="number?",
    temperature_f="number?",
    ohmic_mohm="number?",
    ohmic_baseline_mohm="number?",
    gravity="number?",
    remark="text",
    recorded_at="instant",
)
WITHDRAWN = Shape("BatteryTestWithdrawal", id="id", test_id="id", reason="text", at="instant")


class Test(forms.RecordTest):
    """What was measured, and with which instrument."""

    instrument_id = fields.UUIDField(required=False, label="The instrument")

    def said(self) -> dict[str, str]:
        """Give what was measured, without the instrument."""
        found = dict(super().said())
        found.pop("instrument_id", None)
        return found


class Withdraw(fields.Form):
    """Why a test no longer counts."""

    reason = fields.CharField(max_length=200)


class _Batteries(Resource):
    group = "Batteries"
    missing: ClassVar = (*queries.Missing, *register.Missing)

    def set(self, device_id: UUID) -> Any:
        """The battery set of the address."""
        return self.get_or_404(queries.get_battery, device_id=device_id)

    def handle_exception(self, exc: Exception) -> Any:
        """Answer what cannot be recorded field by field, as the page does."""
        if isinstance(exc, services.UnableToDescribe):
            exc = ValidationError({name: [said] for name, said in exc.problems.items()})
        return super().handle_exception(exc)


class Batteries(_Batteries):
    """The firm's battery sets."""

    @operation(
        BATTERY, many=True, filters=(Filter("show", "All, or what asks.", ("all", "asking")),)
    )
    def get(self, request: Any) -> Any:
        """List the firm's battery sets, the worst first, all on one page."""
        lines = queries.list_lines(firm_id=self.firm_id, now=now())
        if self.asked("show", "all") == "asking":
            lines = [line for line in lines if line.standing.key != "keep"]
        return self.whole(lines)


class BuildingBatteries(_Batteries):
    """A building's battery sets."""

    @operation(BATTERY, many=True)
    def get(self, request: Any, building_id: UUID) -> Any:
        """List a building's battery sets, the worst first, all on one page."""
        found = self.get_or_404(register.get_building, building_id=building_id)
        return self.whole(queries.list_lines(firm_id=self.firm_id, now=now(), building=found))


class Battery(_Batteries):
    """One battery set."""

    @operation(BATTERY, keys={"device_id": "battery_id"})
    def get(self, request: Any, device_id: UUID) -> Any:
        """Show a battery set: what it must hold, its age, where it stands."""
        return queries.find_line(device=self.set(device_id), now=now())

    @operation(
        BATTERY,
        Permission.RECORD_TESTS,
        takes=forms.Describe,
        partly=True,
        example={"rated_ah": "18", "standby_a": "0.62", "alarm_a": "2.9"},
        keys={"device_id": "battery_id"},
    )
    def patch(self, request: Any, device_id: UUID) -> Any:
        """Say what a battery set is and what it must carry."""
        device = self.set(device_id)
        facts = queries.find_facts(device=device)
        form = self.read(forms.Describe, row=_Known(facts))
        services.describe_battery(device=device, facts=form.facts(), **self.now_and_member())
        return queries.find_line(device=self.set(device_id), now=now())


class _Known:
    """What is known of a set, under the names of its form."""

    def __init__(self, facts: Any) -> None:
        for name in forms.Describe.base_fields:
            setattr(self, name, getattr(facts, name, None))
        if self.manufactured_on:
            self.manufactured_on = f"{self.manufactured_on:%Y-%m}"
        low, high = facts.maker_float_v or (None, None)
        self.maker_float_low_v, self.maker_float_high_v = low, high
        self.maker_gravity_low, self.maker_gravity_high = facts.maker_gravity or (None, None)
        for name in ("rated_ah", "standby_a", "alarm_a"):
            value = getattr(self, name)
            setattr(self, name, "" if value is None else f"{value:.10g}")

    manufactured_on: Any
    maker_float_low_v: Any
    maker_gravity_low: Any
    maker_gravity_high: Any


class BatteryTests(_Batteries):
    """The tests of a battery set."""

    @operation(TEST, many=True, keys={"device_id": "battery_id"})
    def get(self, request: Any, device_id: UUID) -> Any:
        """List the tests of a battery set, withdrawn ones too."""
        return self.page(queries.list_history(device=self.set(device_id)))

    @operation(
        TEST,
        Permission.RECORD_TESTS,
        takes=Test,
        status=201,
        example={
            "tested_on": "2026-11-24",
            "across": "set",
            "float_v": "27.1",
            "load_v": "25.4",
            "instrument_id": key("instrument_id"),
        },
        keys={"device_id": "battery_id"},
    )
    def post(self, request: Any, device_id: UUID) -> Any:
        """Enter a test of a battery set; it is judged by the building's edition."""
        device = self.set(device_id)
        form = self.read(Test)
        chosen, instrument = form.cleaned_data["instrument_id"], None
        if chosen:
            instrument = self.named("instrument_id", register.get_instrument, instrument_id=chosen)
        return services.record_battery_test(
            device=device,
            tested_on=form.cleaned_data["tested_on"],
            said=form.said(),
            remark=form.cleaned_data["remark"],
            instrument=instrument,
            **self.now_and_member(),
        )


class BatteryTestWithdrawal(_Batteries):
    """A test withdrawn."""

    @operation(
        WITHDRAWN,
        Permission.RECORD_TESTS,
        takes=Withdraw,
        status=201,
        example={"reason": "Another set was measured."},
    )
    def post(self, request: Any, test_id: UUID) -> Any:
        """Take a test back: it stays on record and no longer counts."""
        found = self.get_or_404(queries.get_test, test_id=test_id)
        reason = self.read(Withdraw).cleaned_data["reason"]
        return services.withdraw_battery_test(test=found, reason=reason, **self.now_and_member())
