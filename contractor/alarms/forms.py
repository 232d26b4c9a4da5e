"""What people type about unwanted alarms."""

from django import forms

from contractor.alarms.queries import CAUSES


class WriteDown(forms.Form):
    """One alarm that no dangerous condition caused."""

    happened_at = forms.DateTimeField(
        label="When, by the building’s clock",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M"],
    )
    cause = forms.ChoiceField(choices=CAUSES)
    by_detector = forms.BooleanField(
        required=False, initial=True, label="A detector caused it (not a station or a switch)"
    )
    circumstances = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        label="What set it off, what was done",
    )
    judged_by = forms.CharField(required=False, max_length=120, label="Who judged the cause")
    fire_service_came = forms.NullBooleanField(
        required=False,
        label="The fire service came",
        widget=forms.Select(choices=[("", "not known"), ("true", "yes"), ("false", "no")]),
    )
