"""What people type about print-outs."""

from django import forms

from contractor.readings.queries import METHODS_OF_PRINTOUTS


class TakeIn(forms.Form):
    """A file to take in, and whose it is."""

    file = forms.FileField(
        label="The print-out",
        help_text="CSV, text, or a spreadsheet, as the control unit or the instrument gave it.",
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
    taken_on = forms.DateField(
        required=False,
        label="Printed on",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    is_sure = forms.BooleanField(
        required=False, label="I have read the warnings, and it is this building’s print-out"
    )
