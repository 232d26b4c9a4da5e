"""What people type about tokens and hooks."""

from datetime import date, timedelta
from typing import Any

from django import forms

from contractor.tenancy.days import Day

#: What a token may do, in words.
SCOPES = [
    ("read", "read everything of the firm"),
    ("record_tests", "enter results, unwanted alarms, battery tests"),
    ("manage", "change customers, buildings, print-outs, plans, findings"),
    ("sign_off", "review visits and sign them off"),
    ("administer", "change people and the firm’s settings"),
]
USUAL_DAYS = 90


class TokenForm(forms.Form):
    """A new token."""

    name = forms.CharField(
        max_length=80, label="What it is for", help_text="Accounting, weekly report, test bench."
    )
    scopes = forms.MultipleChoiceField(
        choices=SCOPES, widget=forms.CheckboxSelectMultiple, label="It may", initial=["read"]
    )
    ends_on = Day(
        label="It ends on",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Within a year. Make a new one before that day.",
    )

    def __init__(self, *args: Any, may: frozenset[str], today: date, **kwargs: Any) -> None:
        kwargs["initial"] = {"ends_on": today + timedelta(days=USUAL_DAYS), "scopes": ["read"]}
        super().__init__(*args, **kwargs)
        self.fields["scopes"].choices = [one for one in SCOPES if one[0] in may]  # type: ignore[attr-defined]


#: Beginnings of events that a hook may want; none ticked: all.
EVENTS = [
    ("visit", "visits"),
    ("finding", "findings"),
    ("intake", "print-outs"),
    ("building", "buildings"),
    ("customer", "customers"),
    ("device", "devices"),
    ("alarm", "unwanted alarms"),
    ("agreement", "agreements"),
]


class HookForm(forms.Form):
    """A new hook."""

    url = forms.URLField(
        max_length=300,
        assume_scheme="https",
        label="Address",
        help_text="It begins with https:// and lies on the public net.",
        widget=forms.TextInput(attrs={"inputmode": "url", "autocomplete": "off"}),
    )
    events = forms.MultipleChoiceField(
        choices=EVENTS,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="It is told of (none ticked: everything)",
    )
