"""The days and times that people and programs may name."""

from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext

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
    """A time by the building's clock, as the browser's own field gives it.

    What it gives has no zone: the form knows the building, and reads it by `instant_of`. Only a
    program may name an offset, and then the time has it.
    """

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

    def to_python(self, value: Any) -> datetime | None:
        """Read what was typed; whoever looks, their zone has no say in it."""
        with timezone.override(UTC):  # in which every time of every day exists, once
            found: datetime | None = super().to_python(value)
        if found is None or _names_offset(value):
            return found
        return found.replace(tzinfo=None)

    def prepare_value(self, value: Any) -> Any:
        """Show a moment by the clock that it comes with."""
        return value.replace(tzinfo=None) if isinstance(value, datetime) else value


def _names_offset(value: Any) -> bool:
    said = parse_datetime(value.strip()) if isinstance(value, str) else value
    return isinstance(said, datetime) and said.tzinfo is not None


def instant_of(typed: datetime, zone: ZoneInfo, *, shown: datetime | None = None) -> datetime:
    """Tell the instant of a time by a clock. One that comes twice is the first, unless `shown`.

    What the field showed and nobody changed stays the very instant, with its seconds. A program
    that names an offset means that. Answered in UTC: two clocks in an hour that comes twice are
    never equal to Python (PEP 495).

    Raises
    ------
    ValidationError
        If the clock never shows this time, because it was put forward over it.
    """
    if typed.tzinfo is not None:
        return typed.astimezone(UTC)
    if shown is not None:
        by_clock = shown.astimezone(zone).replace(tzinfo=None, second=0, microsecond=0)
        if typed == by_clock:
            return shown.astimezone(UTC)
    found = typed.replace(tzinfo=zone).astimezone(UTC)
    back = found.astimezone(zone).replace(tzinfo=None)
    if back != typed:
        raise ValidationError(
            gettext("That day this hour was left out: clocks went forward. Was it %(time)s?")
            % {"time": f"{back:%H:%M}"}
        )
    return found
