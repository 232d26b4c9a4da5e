"""What people choose and type about labels."""

from typing import Any

from django import forms

from contractor.labels.services import MOST_LABELS
from contractor.labels.stocks import STOCKS


class Printing(forms.Form):
    """Which labels, on what, from which place on, and why."""

    which = forms.ChoiceField(
        label="devices",
        choices=[
            ("none", "those without a label"),
            ("all", "all of them"),
            ("no", "no device: empty labels only"),
        ],
        initial="none",
    )
    area = forms.ChoiceField(label="zone or floor", required=False)
    kind = forms.ChoiceField(label="kind", required=False)
    stock = forms.ChoiceField(
        label="size of the labels", choices=[(one.key, one.name) for one in STOCKS.values()]
    )
    first = forms.IntegerField(
        label="first free place on the sheet",
        min_value=1,
        initial=1,
        error_messages={"invalid": "Type the place as a whole number."},
    )
    empty = forms.IntegerField(
        label="empty labels, bound on the spot",
        min_value=0,
        max_value=MOST_LABELS,
        initial=0,
        required=False,
        error_messages={"invalid": "Type how many as a whole number."},
    )
    reason = forms.CharField(label="why a label is printed again", max_length=200, required=False)

    def __init__(
        self, *args: Any, areas: list[tuple[str, str]], kinds: list[tuple[str, str]], **more: Any
    ) -> None:
        super().__init__(*args, **more)
        self.fields["area"].choices = [("", "every zone"), *areas]  # type: ignore[attr-defined]
        self.fields["kind"].choices = [("", "every kind"), *kinds]  # type: ignore[attr-defined]


class Again(forms.Form):
    """Why a run is printed once more."""

    reason = forms.CharField(
        label="why it is printed again",
        max_length=200,
        error_messages={"required": "Say why it is printed again, for the log."},
    )
    first = forms.IntegerField(label="first free place on the sheet", min_value=1, initial=1)


class Bind(forms.Form):
    """The code that hangs on a device."""

    code = forms.CharField(
        label="code on the label, or the text of a barcode that hangs there", max_length=300
    )
    reason = forms.CharField(
        label="why it moves from another device", max_length=200, required=False
    )


class Reason(forms.Form):
    """Why."""

    reason = forms.CharField(
        label="why",
        max_length=200,
        error_messages={"required": "Say why; the reason stays with the code."},
    )
