"""What people choose and type about drift."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext

from contractor.tenancy.days import Day
from contractor.web.long_select import LongSelect

STANDS = [
    ("", "anywhere"),
    ("nearing_limit", "nearing its limit"),
    ("out_of_range", "out of range"),
    ("in_range", "in range"),
]
CHANCES = [("", "any chance"), ("0.05", "5 % or more"), ("0.2", "20 % or more"), ("0.5", "even")]


def _day() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class Narrow(forms.Form):
    """What the list of detectors is narrowed to; it lives in the address."""

    building = forms.ChoiceField(required=False, label="building", widget=LongSelect)
    product = forms.ChoiceField(required=False, label="product", widget=LongSelect)
    stands = forms.ChoiceField(choices=STANDS, required=False, label="stands", widget=LongSelect)
    chance = forms.ChoiceField(choices=CHANCES, required=False, label="chance", widget=LongSelect)
    q = forms.CharField(required=False, max_length=80, label="address or place")

    def __init__(
        self,
        *args: Any,
        buildings: Sequence[tuple[str, str]],
        products: Sequence[tuple[str, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        for name, choices in {
            "building": [("", gettext("every building")), *buildings],
            "product": [("", gettext("every product")), *products],
            "stands": [(key, gettext(said)) for key, said in STANDS],
            "chance": [(key, gettext(said)) for key, said in CHANCES],
        }.items():
            self.fields[name].choices = choices  # type: ignore[attr-defined]
        if not buildings:
            del self.fields["building"]


class Choose(forms.Form):
    """Which cleaning list: on which day, up to which day, how many, how few may run out."""

    on = Day(required=False, widget=_day(), label="Cleaned on")
    until = Day(required=False, widget=_day(), label="Must last until")
    accepted = forms.FloatField(
        required=False,
        min_value=0.0,
        max_value=100_000.0,
        label="How many may still run out",
        help_text="Expected number between the two days.",
    )
    count = forms.IntegerField(required=False, min_value=0, max_value=100_000)


class PlanCleaning(forms.Form):
    """When the detectors of a list are cleaned."""

    visit_id = forms.UUIDField(widget=forms.HiddenInput)
    planned_on = Day(label="Day of the visit", widget=_day())


class Answered(forms.Form):
    """What a person says of something that looks sudden."""

    said = forms.ChoiceField(choices=[("yes", "yes"), ("no", "no")])
    happened_on = Day(required=False, widget=_day(), label="on")
    note = forms.CharField(required=False, max_length=200, label="what it was")


class Policy(forms.Form):
    """What a firm wants to be told of."""

    chance = forms.FloatField(
        min_value=1,
        max_value=99,
        label="Tell of a detector from which chance on",
        help_text="Of reaching its limit before the next visit, if it is left alone.",
    )
    accepted = forms.FloatField(
        min_value=0.01,
        max_value=50,
        label="How many detectors may run out between two visits",
        help_text="Of a hundred. Cleaning lists are made so that no more are expected to.",
    )
    minutes = forms.IntegerField(
        min_value=1,
        max_value=480,
        label="Time for one cleaning",
        help_text="Reading as found, cleaning, reading as left. For reckoning what a list costs.",
    )


class LookBack(forms.Form):
    """A day gone by for which forecasts are reckoned."""

    on = Day(label="As of", widget=_day())

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_on(self) -> date:
        """Refuse a day that is too near to be judged."""
        day: date = self.cleaned_data["on"]
        if (self.today - day).days < 180:
            raise forms.ValidationError(
                "What was said less than half a year ago cannot be judged yet. Give an earlier day."
            )
        return day
