"""The days that people and programs may name."""

from datetime import date, datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator

CLOCK = "%Y-%m-%dT%H:%M"
_SAID = "That day lies outside 1900 to 2199. Check its year."
FIRST, LAST = date(1900, 1, 1), date(2199, 12, 31)


def is_day(day: date) -> bool:
    """Tell whether a day is one that can be meant."""
    return FIRST <= day <= LAST


def _refuse_day_of(moment: datetime) -> None:
    if not is_day(moment.date()):
        raise ValidationError(_SAID)


class Day(forms.DateField):
    """A day that can be meant.

    Due dates are counted from days to 2299; one mistyped as of the year 207 would otherwise be
    stored, and from then on keep every due date of its building from being counted.
    """

    def __init__(self, **more: Any) -> None:
        super().__init__(**more)
        self.validators += [MinValueValidator(FIRST, _SAID), MaxValueValidator(LAST, _SAID)]


class Clock(forms.DateTimeField):
    """A time by the building's clock, as the browser's own field gives it."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format=CLOCK),
            input_formats=[CLOCK, "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"],
            error_messages={
                "required": "Give the day and the time.",
                "invalid": "This is no day with a time. Write it as 2026-11-25 14:30.",
            },
            **kwargs,
        )
        self.validators.append(_refuse_day_of)
