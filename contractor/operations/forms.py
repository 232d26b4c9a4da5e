"""What is looked for in the audit trail."""

from typing import Any

from django import forms

from contractor.tenancy.days import Day


class Trail(forms.Form):
    """Who, what, when; all of it may be left out."""

    actor = forms.CharField(required=False, max_length=160, label="Who")
    kind = forms.CharField(required=False, max_length=60, label="What")
    words = forms.CharField(required=False, max_length=120, label="Words in it")
    since = Day(
        required=False,
        label="From",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    until = Day(
        required=False,
        label="To",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def clean(self) -> dict[str, Any]:
        """Refuse days the wrong way round."""
        given: dict[str, Any] = super().clean() or self.cleaned_data
        if given.get("since") and given.get("until") and given["since"] > given["until"]:
            self.add_error("until", "This is before the first day. Change one of the two.")
        return given
