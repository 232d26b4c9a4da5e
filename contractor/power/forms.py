"""What people type of battery sets and their tests."""

from typing import Any

from django import forms

from contractor.engine import editions, typed
from contractor.power.answers import CHEMISTRIES
from contractor.power.queries import ACROSS
from contractor.power.services import BatteryFacts
from contractor.tenancy.days import Day


class Quantity(forms.CharField):
    """One number with a point or a comma; what was typed stays as typed when it is none."""

    def __init__(self, **more: Any) -> None:
        widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
        super().__init__(widget=widget, max_length=20, **more)

    def clean(self, value: Any) -> float | None:
        """Read the number."""
        said = super().clean(value)
        try:
            number = typed.parse(said)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None
        if number is None and self.required:
            raise forms.ValidationError(f"Type the {str(self.label).lower()}.")
        return number

    def prepare_value(self, value: Any) -> Any:
        """Show 18.0 as 18, and what was typed as typed."""
        return f"{value:.10g}" if isinstance(value, float) else value


class Month(Day):
    """The month of a date code; the first of it."""

    def __init__(self, **more: Any) -> None:
        super().__init__(
            widget=forms.DateInput(attrs={"type": "month"}, format="%Y-%m"),
            input_formats=["%Y-%m", "%m/%Y", "%m/%y", "%b %Y", "%B %Y", "%Y-%m-%d"],
            error_messages={"invalid": "Type the month like 2021-03 or 03/2021."},
            **more,
        )


def _day(**more: Any) -> Day:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return Day(widget=widget, error_messages={"invalid": "Type the day like 2026-03-11."}, **more)


class Describe(forms.Form):
    """The facts of one battery set."""

    chemistry = forms.ChoiceField(choices=list(CHEMISTRIES.items()))
    manufactured_on = Month(
        required=False,
        label="Month of manufacture",
        help_text="The date code on the battery, the oldest of the set. Age counts from here.",
    )
    installed_on = _day(required=False, label="Put in on")
    rated_ah = Quantity(required=False, label="Rated capacity of one battery")
    cells = forms.IntegerField(
        initial=6,
        min_value=1,
        label="Cells in one battery",
        help_text="A 12 V lead-acid battery has six.",
    )
    series = forms.IntegerField(initial=2, min_value=1, label="Batteries in series")
    parallel = forms.IntegerField(initial=1, min_value=1, label="Strings in parallel")
    standby_a = Quantity(required=False, label="Load in standby")
    alarm_a = Quantity(required=False, label="Load in alarm")
    voice = forms.BooleanField(required=False, label="The system gives its alarm by voice")
    maker_float_low_v = Quantity(
        required=False, label="Maker: on charge, from", help_text="Of one battery."
    )
    maker_float_high_v = Quantity(required=False, label="Maker: on charge, to")
    maker_load_v = Quantity(
        required=False,
        label="Maker: under load, at least",
        help_text="Of one battery. From the 2019 edition on voltages are judged by these alone.",
    )
    maker_gravity_low = Quantity(
        required=False,
        label="Maker: specific gravity, from",
        help_text="Of vented lead-acid only.",
    )
    maker_gravity_high = Quantity(required=False, label="Maker: specific gravity, to")

    def facts(self) -> BatteryFacts:
        """Give what was typed."""
        return BatteryFacts(**self.cleaned_data)


class RecordTest(forms.Form):
    """What was measured on one day, as typed: the service reads the numbers."""

    tested_on = _day(label="Tested on")
    across = forms.ChoiceField(choices=ACROSS, label="Voltages measured across")
    float_v = forms.CharField(required=False, max_length=20, label="Battery on charge")
    charger_v = forms.CharField(required=False, max_length=20, label="Charger, battery off")
    load_v = forms.CharField(required=False, max_length=20, label="Under load")
    discharge_v = forms.CharField(required=False, max_length=20, label="At the end of discharge")
    discharge_min = forms.CharField(required=False, max_length=20, label="Discharged for")
    capacity = forms.CharField(
        required=False,
        max_length=20,
        label="Capacity, corrected already",
        help_text="Of the rated capacity, as the instrument gives it. Or the two times below.",
    )
    rate_h = forms.CharField(
        required=False,
        max_length=20,
        label="Rated time at this load",
        help_text="How long the maker says that a new battery holds it: 3 h or longer.",
    )
    run_h = forms.CharField(required=False, max_length=20, label="It held for")
    temperature = forms.CharField(
        required=False,
        max_length=20,
        label="Temperature of the battery",
        help_text="Corrects the time that it held. Without one nothing is corrected.",
    )
    temperature_unit = forms.ChoiceField(
        required=False, choices=[("°F", "°F"), ("°C", "°C")], label="Temperature in"
    )
    ohmic_mohm = forms.CharField(
        required=False, max_length=20, label="Ohmic value of the worst battery"
    )
    ohmic_baseline_mohm = forms.CharField(
        required=False,
        max_length=20,
        label="Its baseline",
        help_text="When new. Left empty, the first value on record is taken.",
    )
    gravity = forms.CharField(
        required=False, max_length=20, label="Specific gravity, the lowest cell"
    )
    remark = forms.CharField(required=False, max_length=200, label="Remark")
    sure = forms.BooleanField(required=False, label="It is so; record it as typed")

    def said(self) -> dict[str, str]:
        """Give the measurements as typed."""
        return {
            name: ("on" if value is True else str(value))
            for name, value in self.cleaned_data.items()
            if name not in ("tested_on", "remark") and value
        }


class WhatIf(forms.Form):
    """Loads and capacity to try, without keeping them."""

    standby_a = Quantity(label="Load in standby")
    alarm_a = Quantity(label="Load in alarm")
    rated_ah = Quantity(required=False, label="Rated capacity of one battery")
    parallel = forms.IntegerField(min_value=1, max_value=24, initial=1, label="Strings in parallel")
    voice = forms.BooleanField(required=False, label="Alarm by voice")
    edition = forms.ChoiceField(
        choices=lambda: [
            (key, editions.get(key).title)
            for key in editions.keys()  # noqa: SIM118
            if editions.get(key).battery is not None
        ],
        label="Edition",
    )
