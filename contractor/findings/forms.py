"""What people type about findings."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError

from contractor.findings.queries import HOW, SEVERITIES
from contractor.findings.services import TitleFacts
from contractor.tenancy.days import Clock, Day, instant_of


class OpenFinding(forms.Form):
    """Something wrong, as it was found."""

    severity = forms.ChoiceField(choices=SEVERITIES, initial="deficiency")
    title = forms.CharField(max_length=160, label="What is wrong, in a few words")
    text = forms.CharField(
        required=False, widget=forms.Textarea(attrs={"rows": 3}), label="What is so, what to do"
    )


class WriteFinding(OpenFinding):
    """Something wrong, as the office writes it: the firm's list says how bad it usually is."""

    field_order = ("title", "severity", "text")
    title = forms.CharField(
        max_length=160,
        label="What is wrong, in a few words",
        help_text="Choose from the firm’s list as you type, or write anything else.",
        widget=forms.TextInput(attrs={"list": "titles", "autocomplete": "off"}),
    )
    severity = forms.ChoiceField(
        choices=[("", "as the firm’s list says"), *SEVERITIES], required=False, label="How bad"
    )

    def __init__(self, *args: Any, titles: Iterable[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._usual = {one.title.casefold(): one for one in titles}

    def clean(self) -> dict[str, Any]:
        """Take severity and words from the list where they were left open."""
        data = super().clean() or {}
        usual = self._usual.get(str(data.get("title", "")).strip().casefold())
        if usual is not None:
            data["severity"] = data.get("severity") or usual.severity
            data["text"] = data.get("text") or usual.text
        elif not data.get("severity"):
            self.add_error("severity", "The list does not know this title. Say how bad it is.")
        return data


class _Once(forms.Form):
    """What a page sends once: its key was made with the form, so twice sent is one."""

    finding_id = forms.UUIDField(required=False, widget=forms.HiddenInput)


class FoundFinding(_Once, OpenFinding):
    """Something wrong, written on the page of a device."""


class WrittenFinding(_Once, WriteFinding):
    """Something wrong, written on the page of a building."""


class _Deed(forms.Form):
    """Something that was done at a time, by the clock of the building."""

    def __init__(self, *args: Any, zone: str, now: datetime, **kwargs: Any) -> None:
        self.zone = ZoneInfo(zone)
        started = now.astimezone(self.zone).replace(second=0, microsecond=0)
        times = [name for name, one in self.base_fields.items() if isinstance(one, Clock)]
        initial = dict.fromkeys(times, started) | kwargs.pop("initial", {})
        kwargs["initial"] = initial
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        """Read every time by the building's clock."""
        data = super().clean() or {}
        for name, value in list(data.items()):
            if isinstance(value, datetime):
                try:
                    data[name] = instant_of(value, self.zone, shown=self.initial.get(name))
                except ValidationError as error:
                    self.add_error(name, error)
        return data


def _day(label: str) -> Day:
    return Day(label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))


def _words(label: str, *, required: bool = False, about: str = "") -> forms.CharField:
    return forms.CharField(
        required=required,
        label=label,
        help_text=about,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class CorrectFinding(forms.Form):
    """How and when it was put right, and what proves it."""

    correction = _words("What was done", required=True)
    proof = _words(
        "What proves it: the re-test",
        about="What was tested again, when, and with what result. Deficiencies and worse need it.",
    )
    on = _day("On")


class Inform(_Deed):
    """The owner was told."""

    whom = forms.CharField(max_length=160, label="Who was told", help_text="By name.")
    how = forms.ChoiceField(choices=HOW, widget=forms.RadioSelect, initial="by word")
    at = Clock(label="When, by the building’s clock")
    text = _words("What was said")


class GiveNotice(_Deed):
    """One notice was given."""

    whom = forms.CharField(max_length=160, label="Who took it", help_text="By name or office.")
    at = Clock(label="When, by the building’s clock")
    text = _words("Proof: number of the letter, of the form, of the call")


class AskQuote(_Deed):
    """A quote was asked for."""

    whom = forms.CharField(max_length=160, required=False, label="Asked of whom")
    at = Clock(label="When, by the building’s clock")
    text = _words("What is to be quoted")


class Quote(_Deed):
    """A quote was given to the owner."""

    amount = forms.DecimalField(min_value=0, max_digits=10, decimal_places=2, label="How much")
    whom = forms.CharField(max_length=160, required=False, label="Given to whom")
    at = Clock(label="When, by the building’s clock")
    text = _words("Number of the quote, what it covers")


class Answer(_Deed):
    """The owner's answer."""

    whom = forms.CharField(max_length=160, label="Who answered", help_text="By name.")
    at = Clock(label="When, by the building’s clock")
    text = _words("In their words")


class ScheduleRepair(_Deed):
    """The repair has a day."""

    planned_on = _day("Repair on")
    whom = forms.CharField(max_length=160, required=False, label="By whom")
    at = Clock(label="Agreed when, by the building’s clock")
    text = _words("What is to be done")


class Outage(_Deed):
    """Since when protection is out, and what of it."""

    out_since = Clock(label="Out since, by the building’s clock")
    out_what = forms.CharField(
        max_length=200, required=False, label="What is out", help_text="Loop 2, levels 3 to 5."
    )


class Round(_Deed):
    """One round of a fire watch."""

    walked_at = Clock(label="Walked at, by the building’s clock")
    name = forms.CharField(max_length=120, label="By whom")
    text = forms.CharField(max_length=200, required=False, label="What was seen")


class Restore(_Deed):
    """Protection is back in service."""

    back_at = Clock(label="Back in service at, by the building’s clock")
    correction = _words("What was done", required=True)
    proof = _words(
        "The re-test: what was tested again, and with what result",
        about="An impairment ends with a test that passes.",
    )


class Title(forms.Form):
    """What the firm calls a finding, and how bad it usually is."""

    title = forms.CharField(max_length=160, label="What is wrong, in a few words")
    severity = forms.ChoiceField(choices=SEVERITIES, initial="deficiency", label="Usually")
    text = _words("What to do, as the owner reads it")

    def facts(self) -> TitleFacts:
        """Give what was typed."""
        return TitleFacts(**self.cleaned_data)
