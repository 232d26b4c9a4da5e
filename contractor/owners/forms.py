"""What an owner types, and the office about an owner's seat."""

from collections.abc import Sequence
from typing import Any

from django import forms

from contractor.owners.sharing import PURPOSES
from contractor.tenancy.days import Day


class GiveLink(forms.Form):
    """A link for somebody without a seat."""

    name = forms.CharField(
        label="For whom",
        max_length=120,
        help_text="A person or an office. Each use is written down under this name.",
    )
    purpose = forms.ChoiceField(label="Who that is", choices=PURPOSES)
    ends_on = Day(
        label="Until and with",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )


class Decide(forms.Form):
    """Whether something is put right."""

    says = forms.ChoiceField(
        label="What we do",
        choices=[("yes", "Put it right"), ("no", "Leave it for now")],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label="Why, or what to mind",
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Needed where it is left for now.",
    )


class SeeBuildings(forms.Form):
    """Which buildings of their customer a person may see."""

    buildings = forms.MultipleChoiceField(
        label="Buildings that this person may see",
        required=False,  # the service says what to do
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: Any, choices: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["buildings"].choices = choices  # type: ignore[attr-defined]
