"""What people type about unwanted alarms: the office at length, an owner in plain choices."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from django import forms

from contractor.alarms.queries import CAUSES
from contractor.register.nesting import Place
from contractor.tenancy.days import Clock, instant_of

BY_DETECTOR = (
    ("yes", "a detector"),
    ("no", "a station, a switch, anything else"),
    ("", "not known"),
)
YES_OR_NO = (("", "not known"), ("yes", "yes"), ("no", "no"))
_SAID = {"yes": True, "no": False, "": None}


class _Alarm(forms.Form):
    """Where and when, which both the office and an owner say."""

    def __init__(self, *args: Any, places: Iterable[Place], zone: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.zone = ZoneInfo(zone)
        found = {str(one.area.pk): one for one in places}
        self.areas = {key: one.area for key, one in found.items()}
        choices = [("", "not known"), *((key, one.words) for key, one in found.items())]
        field = self.fields["area"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices

    def clean_happened_at(self) -> datetime:
        """Read the time by the building's clock."""
        said, shown = self.cleaned_data["happened_at"], self.initial.get("happened_at")
        return instant_of(said, self.zone, shown=shown)

    def _where_and_when(self) -> dict[str, Any]:
        said = self.cleaned_data
        return {
            "happened_at": said["happened_at"],
            "area": self.areas.get(said["area"]),
            "address": said["address"],
            "action": said["action"],
        }


class WriteDown(_Alarm):
    """One alarm that no dangerous condition caused, as a member of the firm writes it down."""

    happened_at = Clock(label="When, by the building’s clock")
    area = forms.ChoiceField(required=False, label="Zone")
    address = forms.CharField(required=False, max_length=40, label="Address of the device")
    cause = forms.ChoiceField(choices=CAUSES, widget=forms.RadioSelect)
    by_detector = forms.ChoiceField(
        choices=BY_DETECTOR, required=False, label="What gave the alarm", widget=forms.RadioSelect
    )
    circumstances = forms.CharField(
        required=False, widget=forms.Textarea(attrs={"rows": 2}), label="What set it off"
    )
    action = forms.CharField(
        required=False, widget=forms.Textarea(attrs={"rows": 2}), label="What was done"
    )
    judged_by = forms.CharField(required=False, max_length=120, label="Who judged the cause")
    fire_service_came = forms.ChoiceField(
        choices=YES_OR_NO, required=False, label="The fire service came", widget=forms.RadioSelect
    )

    def said(self) -> dict[str, Any]:
        """Give what was typed, as the service takes it."""
        said = self.cleaned_data
        return self._where_and_when() | {
            "cause": said["cause"],
            "by_detector": _SAID[said["by_detector"]],
            "circumstances": said["circumstances"],
            "judged_by": said["judged_by"],
            "fire_service_came": _SAID[said["fire_service_came"]],
        }


class Reason(forms.Form):
    """Why an entry is taken back."""

    reason = forms.CharField(
        max_length=200,
        label="Why",
        error_messages={"required": "Say why this entry does not count."},
    )


class Correction(WriteDown):
    """An entry written anew, with what was wrong with the old one."""

    reason = forms.CharField(
        max_length=200,
        label="What was wrong with the entry",
        error_messages={"required": "Say what was wrong with the entry."},
    )


class Plain(NamedTuple):
    """A plain choice, and what it stands for in the record."""

    words: str
    cause: str
    by_detector: bool | None
    short: str


#: An owner's words for the four causes. The careful reading: what a detector reacted to without
#: danger is nuisance; what a person did is not.
PLAIN = {
    "reacted": Plain(
        "A detector reacted to something harmless: steam, dust, cooking, insects, a fog machine",
        "nuisance",
        True,
        "a detector reacted to something harmless",
    ),
    "mistake": Plain(
        "Somebody set it off without meaning to: knocked a station, drilled, tested it unannounced",
        "unintentional",
        False,
        "somebody set it off without meaning to",
    ),
    "purpose": Plain("Somebody did it on purpose", "malicious", False, "done on purpose"),
    "nobody": Plain("Nobody knows", "unknown", None, "nobody knows why"),
}


class TellPlainly(_Alarm):
    """One alarm in an owner's words."""

    happened_at = Clock(label="When, by the building’s clock")
    area = forms.ChoiceField(required=False, label="Where")
    happened = forms.ChoiceField(
        choices=[(key, plain.words) for key, plain in PLAIN.items()],
        widget=forms.RadioSelect,
        label="What happened",
        error_messages={"required": "Choose what fits best; nobody knows is an answer too."},
    )
    circumstances = forms.CharField(
        required=False, max_length=1000, label="A few words, such as toast in the kitchen"
    )
    action = forms.CharField(required=False, max_length=1000, label="Was anything done")
    address = forms.CharField(
        required=False, max_length=40, label="Address on the alarm panel’s display"
    )
    fire_service_came = forms.ChoiceField(
        choices=YES_OR_NO, required=False, label="Did the fire service come"
    )

    def said(self) -> dict[str, Any]:
        """Give what was said, as the service takes it."""
        said = self.cleaned_data
        plain = PLAIN[said["happened"]]
        return self._where_and_when() | {
            "cause": plain.cause,
            "by_detector": plain.by_detector,
            "circumstances": said["circumstances"],
            "fire_service_came": _SAID[said["fire_service_came"]],
        }
