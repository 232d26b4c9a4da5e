"""What people type about plans."""

from collections.abc import Sequence
from typing import Any

from django import forms

from contractor.planning.queries import FEED_KINDS, PARTS, WAYS
from contractor.tenancy.days import Day

Choices = Sequence[tuple[str, str]]


def _day() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


def _hour() -> forms.TimeInput:
    return forms.TimeInput(attrs={"type": "time"}, format="%H:%M")


class Move(forms.Form):
    """Where a visit goes."""

    to = Day(label="To which day", widget=_day())
    people = forms.MultipleChoiceField(
        required=False, widget=forms.CheckboxSelectMultiple, label="Who goes"
    )

    def __init__(self, *args: Any, people: Choices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["people"].choices = people  # type: ignore[attr-defined]


class Times(forms.Form):
    """The hours of a visit."""

    starts_at = forms.TimeField(
        required=False,
        label="Fixed beginning, at the building",
        help_text="Left empty, the visit holds the whole day.",
        widget=_hour(),
    )
    hours = forms.DecimalField(
        required=False, min_value=0, max_value=200, decimal_places=2, label="How long it takes"
    )
    test_begins_at = forms.TimeField(required=False, label="Test mode from", widget=_hour())
    test_ends_at = forms.TimeField(required=False, label="Test mode until", widget=_hour())


class Call(forms.Form):
    """Somebody was told by telephone."""

    telling = forms.ChoiceField(label="Who was told")
    spoken_with = forms.CharField(max_length=160, label="With whom you spoke")

    def __init__(self, *args: Any, tellings: Choices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["telling"].choices = tellings  # type: ignore[attr-defined]


class NewTelling(forms.Form):
    """Who is told before work."""

    part = forms.ChoiceField(choices=PARTS, label="Who is told")
    name = forms.CharField(max_length=120, label="Name")
    way = forms.ChoiceField(choices=WAYS, label="How")
    to = forms.CharField(max_length=160, label="Mail address or telephone number")
    days_before = forms.IntegerField(
        min_value=0, max_value=60, initial=2, label="How many days before"
    )


class PlaceForm(forms.Form):
    """Where a building lies, and when it is open."""

    latitude = forms.FloatField(
        required=False, min_value=-90, max_value=90, label="Latitude, north positive"
    )
    longitude = forms.FloatField(
        required=False, min_value=-180, max_value=180, label="Longitude, east positive"
    )
    opens_at = forms.TimeField(required=False, label="Open from", widget=_hour())
    closes_at = forms.TimeField(required=False, label="Open until", widget=_hour())


class NewFeed(forms.Form):
    """Whose visits a calendar holds."""

    kind = forms.ChoiceField(choices=FEED_KINDS, label="Whose visits")
    technician = forms.ChoiceField(required=False, label="Technician")
    building = forms.ChoiceField(required=False, label="Building")

    def __init__(self, *args: Any, technicians: Choices, buildings: Choices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        empty = ("", "none")
        self.fields["technician"].choices = [empty, *technicians]  # type: ignore[attr-defined]
        self.fields["building"].choices = [empty, *buildings]  # type: ignore[attr-defined]
