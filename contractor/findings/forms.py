"""What people type about findings."""

from django import forms

from contractor.findings.queries import SEVERITIES


class OpenFinding(forms.Form):
    """Something wrong, as it was found."""

    severity = forms.ChoiceField(choices=SEVERITIES, initial="deficiency")
    title = forms.CharField(max_length=160, label="What is wrong, in a few words")
    text = forms.CharField(
        required=False, widget=forms.Textarea(attrs={"rows": 3}), label="What is so, what to do"
    )


class CorrectFinding(forms.Form):
    """How and when it was put right."""

    correction = forms.CharField(
        widget=forms.Textarea(attrs={"rows": 2}), label="What was done, and how it was proved"
    )
    on = forms.DateField(
        label="On", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
