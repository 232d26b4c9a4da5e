"""What people type about people and the firm."""

from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.text import slugify

from contractor.people.queries import ROLES
from contractor.people.services import FirmFacts, LicenceFacts
from contractor.tenancy.days import Day
from contractor.tenancy.queries import PAPERS
from contractor.web.languages import LANGUAGES

UNITS = [(unit, unit) for unit in ("%/ft", "%/m", "dB/m")]


def _date() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class Name(forms.CharField):
    """A name on one line: it stands in the heads of mails, which refuse a line's end."""

    def to_python(self, value: Any) -> str:
        """Join its words by one space each."""
        return " ".join(str(super().to_python(value) or "").split())


class Invite(forms.Form):
    """Whom to invite, as what."""

    name = Name(max_length=120, label="Name, as it stands on reports")
    email = forms.EmailField(label="Mail address")
    role = forms.ChoiceField(choices=ROLES, initial="technician", widget=forms.RadioSelect)


class Join(forms.Form):
    """The name and password of somebody new."""

    name = Name(max_length=120, label="Your name, as it stands on reports")
    password = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        label="Password",
        help_text="12 characters or more; a sentence is easier to keep than a riddle.",
    )

    def clean_password(self) -> str:
        """Refuse what is guessed first."""
        password = str(self.cleaned_data["password"])
        validate_password(password)
        return password


class Role(forms.Form):
    """What a member may do."""

    name = Name(max_length=120, label="Name, as it stands on reports to come")
    role = forms.ChoiceField(choices=ROLES, widget=forms.RadioSelect)


class Leave(forms.Form):
    """When a member leaves, and who takes their visits over."""

    on = Day(label="Last day", widget=_date())
    heir = forms.ChoiceField(required=False, label="Planned visits go to")

    def __init__(self, *args: Any, people: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["heir"].choices = [("", "nobody yet"), *people]  # type: ignore[attr-defined]


class LicenceForm(forms.Form):
    """One licence."""

    kind = forms.CharField(max_length=80, label="Licence or certificate")
    number = forms.CharField(max_length=60, required=False, label="Number")
    jurisdiction = forms.CharField(
        max_length=120,
        required=False,
        label="Where it holds",
        help_text="As buildings name their jurisdiction; empty: everywhere.",
    )
    ends_on = Day(required=False, label="Its last day", widget=_date())

    def facts(self) -> LicenceFacts:
        """Give what was typed."""
        return LicenceFacts(**self.cleaned_data)


def _zone(value: str) -> str:
    if value not in available_timezones():
        raise ValidationError("There is no such time zone. Write it as America/Chicago.")
    ZoneInfo(value)
    return value


class Profile(forms.Form):
    """The firm's own page."""

    name = Name(max_length=120, label="Name of the firm")
    address = forms.CharField(
        required=False, widget=forms.Textarea(attrs={"rows": 3}), label="Address"
    )
    telephone = forms.CharField(max_length=40, required=False)
    email = forms.EmailField(required=False, label="Mail address on papers")
    licence = forms.CharField(
        max_length=120, required=False, label="Licence or registration on papers"
    )
    paper = forms.ChoiceField(choices=PAPERS, widget=forms.RadioSelect)
    time_zone = forms.CharField(max_length=64, label="Time zone")
    obscuration_unit = forms.ChoiceField(choices=UNITS, label="Unit of obscuration")
    language = forms.ChoiceField(
        choices=[("", "as each browser asks; mails and papers in English"), *LANGUAGES],
        required=False,
        label="Language of mails and papers, and of pages for who has chosen none",
    )
    needs_second_factor = forms.BooleanField(
        required=False,
        label="Members must sign in with a second factor",
        help_text="Who has none is led to set one up before any page of the firm opens.",
    )

    def clean_time_zone(self) -> str:
        """Refuse a zone that is none."""
        return _zone(self.cleaned_data["time_zone"])

    def facts(self) -> FirmFacts:
        """Give what was typed."""
        return FirmFacts(**self.cleaned_data)


class SetUp(forms.Form):
    """An empty server's first firm and its principal."""

    firm = Name(max_length=120, label="Name of the firm, as it stands on reports")
    slug = forms.SlugField(
        max_length=40,
        required=False,
        label="Its word in addresses",
        help_text="Such as tarnbeck; left empty, it is made of the name.",
    )
    time_zone = forms.CharField(max_length=64, initial="America/New_York", label="Time zone")
    obscuration_unit = forms.ChoiceField(choices=UNITS, initial="%/ft", label="Unit of obscuration")
    paper = forms.ChoiceField(choices=PAPERS, initial="letter", widget=forms.RadioSelect)
    name = Name(max_length=120, label="Your name")
    email = forms.EmailField(label="Your mail address; you sign in with it")
    password = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        label="Password",
        help_text="12 characters or more.",
    )

    def clean_time_zone(self) -> str:
        """Refuse a zone that is none."""
        return _zone(self.cleaned_data["time_zone"])

    def clean_password(self) -> str:
        """Refuse what is guessed first."""
        password = str(self.cleaned_data["password"])
        validate_password(password)
        return password

    def clean(self) -> dict[str, Any]:
        """Make the word in addresses of the name where none was given."""
        said: dict[str, Any] = super().clean() or {}
        if not said.get("slug") and said.get("firm"):
            said["slug"] = slugify(said["firm"])[:40] or "firm"
        return said
