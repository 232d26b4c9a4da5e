"""What people type about print-outs."""

from django import forms

from contractor.readings.queries import METHODS_OF_PRINTOUTS
from contractor.tenancy.days import Day


class TakeIn(forms.Form):
    """A file to take in, and whose it is."""

    file = forms.FileField(
        label="The file",
        help_text="CSV, text, or a spreadsheet, as the control unit or the instrument gave it: a"
        " sensitivity print-out, a device list or an event log. Which it is, is recognised.",
        allow_empty_file=True,  # refused with a sentence of its own
    )


class Accept(forms.Form):
    """How a print-out is accepted."""

    accept_as = forms.ChoiceField(
        choices=[
            ("readings", "readings only: trended and judged, no test"),
            ("test", "a sensitivity test of these detectors"),
        ],
        initial="readings",
        label="Accept it as",
    )
    method = forms.ChoiceField(
        choices=[("", "choose, if it is a test"), *METHODS_OF_PRINTOUTS],
        required=False,
        label="Permitted method",
    )
    taken_on = Day(
        required=False,
        label="Printed on",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    is_sure = forms.BooleanField(
        required=False, label="I have read the warnings, and it is this building’s print-out"
    )


class ByItself(forms.Form):
    """How a system's print-outs come in without anybody carrying them."""

    senders = forms.CharField(
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        label="Known senders, one in a line",
        help_text="Mail addresses, or a whole domain as @example.org. A mail from anybody else is"
        " marked and always waits for a person.",
    )
    accepts_alone = forms.BooleanField(
        required=False,
        label="Accept a print-out by itself, as readings, when its layout is known, its sender is"
        " known, and nothing is wrong or asked",
    )
    expected_days = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=366,
        label="A print-out is expected every … days",
        help_text="7 for weekly. Leave it empty where none is expected.",
    )
