"""What people type about visits."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django import forms

from contractor.tenancy.days import Day
from contractor.visits.queries import KINDS, METHODS, TASKS, VERDICTS
from contractor.visits.services import Amendment

UNITS = [(unit, unit) for unit in ("%/ft", "%/m", "dB/m")]
WHICH = [
    ("all", "all devices"),
    ("due", "devices of which one of these falls due by that day, or whose window is open"),
    ("asking", "detectors nearing their limit or out of range"),
]


def _area(rows: int = 2, **attrs: Any) -> forms.Textarea:
    return forms.Textarea(attrs={"rows": rows, **attrs})


class Plan(forms.Form):
    """Where, when, who and what for."""

    visit_id = forms.UUIDField(widget=forms.HiddenInput)
    planned_on = Day(
        label="Day of the visit", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    tasks = forms.MultipleChoiceField(
        choices=TASKS, widget=forms.CheckboxSelectMultiple, label="What is done"
    )
    which = forms.ChoiceField(
        choices=WHICH, widget=forms.RadioSelect, initial="all", label="To which devices"
    )
    areas = forms.MultipleChoiceField(
        required=False, widget=forms.CheckboxSelectMultiple, label="Only in (none ticked: anywhere)"
    )
    people = forms.MultipleChoiceField(
        required=False, widget=forms.CheckboxSelectMultiple, label="Who goes"
    )
    purpose = forms.CharField(max_length=200, required=False, label="Purpose, in a few words")
    frequency = forms.CharField(
        max_length=400,
        required=False,
        label="Required frequency that it satisfies",
        help_text="Left empty, it is taken from the building's adopted edition.",
    )
    instructions = forms.CharField(
        required=False, widget=_area(3), label="For the technician: keys, escorts, what to bring"
    )

    def __init__(
        self,
        *args: Any,
        people: Sequence[tuple[str, str]],
        areas: Sequence[tuple[str, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["people"].choices = people  # type: ignore[attr-defined]
        self.fields["areas"].choices = areas  # type: ignore[attr-defined]


class ChangePlan(forms.Form):
    """What may be changed of a plan."""

    planned_on = Plan.base_fields["planned_on"]
    people = Plan.base_fields["people"]
    purpose = Plan.base_fields["purpose"]
    frequency = Plan.base_fields["frequency"]
    instructions = Plan.base_fields["instructions"]

    def __init__(self, *args: Any, people: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["people"].choices = people  # type: ignore[attr-defined]


class Begin(forms.Form):
    """The cautions, each ticked, and who was told."""

    cautions = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple)
    notified_before = forms.CharField(
        required=False,
        widget=_area(2),
        label="Who was told before: station, occupants, others; when; operator's name",
    )

    def __init__(self, *args: Any, cautions: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(one, one) for one in cautions]
        self.fields["cautions"].choices = choices  # type: ignore[attr-defined]


class Entered(forms.Form):
    """What every entry carries: its key, what its author had seen, why it comes late."""

    entry_id = forms.UUIDField(required=False, widget=forms.HiddenInput)
    seen = forms.CharField(required=False, widget=forms.HiddenInput)
    why = forms.CharField(required=False, max_length=160)

    def by(self) -> dict[str, Any]:
        """Give what the services ask of every entry."""
        said = self.cleaned_data
        return {"entry_id": said["entry_id"], "seen": said["seen"].split(), "why": said["why"]}


class Reason(Entered):
    """A reason, tapped or typed, for one task or for all."""

    task = forms.ChoiceField(choices=[("", "all"), *TASKS], required=False)
    reason = forms.CharField(max_length=200, required=False)
    other_reason = forms.CharField(max_length=200, required=False)
    serial = forms.CharField(max_length=60, required=False)

    def said(self) -> str:
        """Give the reason: tapped, or typed."""
        return str(self.cleaned_data["reason"] or self.cleaned_data["other_reason"])


class ReadingForm(Entered):
    """One sensitivity reading, as typed."""

    stage = forms.ChoiceField(
        choices=[("as_found", "as found"), ("as_left", "as left")], widget=forms.HiddenInput
    )
    measured = forms.CharField(
        required=False,
        max_length=12,
        label="alarm point",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    drift = forms.CharField(
        required=False,
        max_length=12,
        label="corrected",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    used = forms.CharField(
        required=False,
        max_length=12,
        label="allowance used",
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    unit = forms.ChoiceField(choices=UNITS, initial="%/ft", widget=forms.RadioSelect)
    control_unit_says = forms.ChoiceField(
        required=False,
        choices=[
            ("", "says nothing"),
            ("in range", "says in range"),
            ("out of range", "says out of range"),
        ],
        label="control unit",
    )
    method = forms.ChoiceField(choices=METHODS, initial="control_unit", label="method")
    instrument = forms.ChoiceField(required=False, label="instrument")
    override_state = forms.ChoiceField(
        required=False, choices=[("", "as judged"), *VERDICTS], label="other verdict"
    )
    override_reason = forms.CharField(required=False, max_length=200, label="why")

    def __init__(self, *args: Any, instruments: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["instrument"].choices = [("", "none"), *instruments]  # type: ignore[attr-defined]

    def typed(self) -> dict[str, str]:
        """Give what was typed, as the readings understand it."""
        names = ("measured", "drift", "used", "unit", "control_unit_says")
        return {name: self.cleaned_data[name] for name in names if self.cleaned_data.get(name)}


class FoundDevice(forms.Form):
    """A device that hangs there and is on no list."""

    address = forms.CharField(max_length=40, label="Address, as painted or programmed")
    kind = forms.ChoiceField(choices=KINDS, label="What it is")
    label = forms.CharField(max_length=160, required=False, label="Where it hangs")
    area = forms.ChoiceField(required=False, label="Zone or floor")
    system = forms.ChoiceField(label="System")

    def __init__(
        self,
        *args: Any,
        areas: Sequence[tuple[str, str]],
        systems: Sequence[tuple[str, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["area"].choices = [("", "none"), *areas]  # type: ignore[attr-defined]
        self.fields["system"].choices = systems  # type: ignore[attr-defined]


class HandIn(forms.Form):
    """Who was told after, and why the rest was not tested."""

    notified_after = forms.CharField(
        required=False,
        widget=_area(2),
        label="Who was told that the work has ended, and when; signals received",
    )
    reason_for_rest = forms.CharField(
        required=False, max_length=200, label="Why the rest was not tested"
    )


class SendBack(forms.Form):
    """What is to be done before it is handed in again."""

    reason = forms.CharField(required=False, widget=_area(2), label="What is to be done")


class Resolve(Entered):
    """Which of several statements holds, and why."""

    task = forms.ChoiceField(choices=TASKS)
    holds = forms.UUIDField(required=False)
    reason = forms.CharField(required=False, max_length=160)


class Amend(forms.Form):
    """One corrected statement of a sealed record, and why."""

    revision = forms.IntegerField(widget=forms.HiddenInput)
    device = forms.ChoiceField(label="Device")
    task = forms.ChoiceField(choices=TASKS, label="What was done")
    result = forms.ChoiceField(
        required=False,
        choices=[
            ("", "choose, or type the reading below"),
            ("pass", "pass"),
            ("fail", "fail"),
            ("not_tested", "not tested"),
        ],
        label="Result as it should stand",
    )
    result_reason = forms.CharField(
        required=False, max_length=200, label="Why it failed or was not tested"
    )
    measured = forms.CharField(required=False, max_length=12, label="Alarm point")
    drift = forms.CharField(required=False, max_length=12, label="Corrected")
    unit = forms.ChoiceField(choices=UNITS, initial="%/ft", label="Unit")
    stage = forms.ChoiceField(
        required=False, choices=[("as_found", "as found"), ("as_left", "as left")], label="Stage"
    )
    reason = forms.CharField(
        required=False, widget=_area(2), label="Why the record is amended (printed)"
    )

    def __init__(self, *args: Any, devices: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["device"].choices = devices  # type: ignore[attr-defined]

    def typed(self) -> dict[str, str]:
        """Give the reading as it should have been typed, or nothing."""
        said = {name: self.cleaned_data[name] for name in ("measured", "drift")}
        if not any(said.values()):
            return {}
        return {**{k: v for k, v in said.items() if v}, "unit": self.cleaned_data["unit"]}

    def change(self) -> Amendment:
        """Give the statement as it should stand."""
        said = self.cleaned_data
        return Amendment(
            device_id=UUID(said["device"]),
            task=said["task"],
            result=said["result"],
            reason=said["result_reason"],
            said=self.typed(),
            stage=said["stage"],
        )
