"""What is typed about keeping: longer rules, holds, removals; each with its reason."""

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django import forms


def _why(label: str) -> forms.CharField:
    said = {"required": "Say why, in a few words."}
    return forms.CharField(label=label, max_length=200, error_messages=said)


class Lengthen(forms.Form):
    """Keep one kind of record for more years."""

    kind = forms.CharField(widget=forms.HiddenInput)
    years = forms.IntegerField(label="Keep them for", min_value=1, max_value=100)
    reason = _why("Why")


class Hold(forms.Form):
    """Stop every removal of a building's records."""

    building = forms.TypedChoiceField(
        label="Building",
        coerce=UUID,
        error_messages={"invalid_choice": "Choose the building whose records are held."},
    )
    reason = _why("Why nothing of it may be removed")

    def __init__(self, *args: Any, buildings: Iterable[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(str(one.pk), one.name) for one in buildings]
        self.fields["building"].choices = choices  # type: ignore[attr-defined]


class Remove(forms.Form):
    """Remove the content of one record."""

    reason = _why("Why it is removed")
