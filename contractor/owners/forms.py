"""What an owner types: for whom a link is, what is decided about a finding."""

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
