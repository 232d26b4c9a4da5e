"""What the office types about buildings and products."""

from collections.abc import Sequence
from typing import Any
from zoneinfo import available_timezones

from django import forms

from contractor.engine import editions
from contractor.engine.deadlines import OUT_LIMITS
from contractor.register.queries import (
    INSTRUMENT_KINDS,
    KINDS,
    SECOND_TEST_RULES,
    TOPICS,
    YEAR_RULES,
)
from contractor.register.services import (
    BuildingFacts,
    ContactFacts,
    CustomerFacts,
    InstrumentFacts,
    ProductFacts,
    UnableToChange,
    check_no_secret,
)
from contractor.tenancy.days import Day

#: Whose rules of notice are held; what each asks stands in engine.deadlines.
PLACES = [
    ("nfpa72", "NFPA 72: the owner"),
    ("texas", "Texas: the owner and the local authority"),
    ("florida", "Florida: the owner and the authority"),
]


def _limits() -> list[tuple[str, str]]:
    """List the limits of an outage, the smallest first."""
    found = sorted(OUT_LIMITS.items(), key=lambda item: item[1].hours)
    return [
        (
            key,
            f"{limit.clause}: {f'more than {limit.hours:g} hours' if limit.hours else 'at once'}"
            f"{f' in {limit.within_h:g}' if limit.within_h else ''} ({limit.standing})",
        )
        for key, limit in found
    ]


def day_field(label: str, *, required: bool = False, about: str = "") -> Day:
    """Make the field of a day."""
    return Day(
        required=required,
        label=label,
        help_text=about,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )


def _editions() -> list[tuple[str, str]]:
    return [(key, editions.get(key).title) for key in editions.keys()]  # noqa: SIM118


class BuildingForm(forms.Form):
    """The facts of one building."""

    FIRST = ("name", "street", "town", "region", "postcode", "edition")

    name = forms.CharField(max_length=160)
    street = forms.CharField(max_length=160, required=False)
    town = forms.CharField(max_length=120, required=False)
    region = forms.CharField(max_length=80, required=False, label="State or region")
    postcode = forms.CharField(max_length=20, required=False)
    time_zone = forms.ChoiceField(
        choices=lambda: [(name, name) for name in sorted(available_timezones())],
        initial="America/New_York",
    )
    edition = forms.ChoiceField(
        choices=_editions,
        label="Adopted edition",
        help_text="The edition that the jurisdiction has adopted governs, not the newest.",
        initial="nfpa72-2019",
    )
    jurisdiction = forms.CharField(max_length=120, required=False)
    authority = forms.CharField(
        max_length=160, required=False, label="Authority having jurisdiction"
    )
    authority_address = forms.CharField(
        required=False, widget=forms.Textarea(attrs={"rows": 2}), label="Its address"
    )
    monitoring = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        label="Supervising station: account, telephone",
    )
    instructions = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        label="Keys, escorts, hours, hazards",
    )
    releasing = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        label="Releasing and elevator circuits to secure first",
    )
    access_held_by = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        label="Who holds passwords, access codes and site software, and where",
        help_text="Names and places only. The code itself is not kept here: many people read this.",
    )
    second_test_rule = forms.ChoiceField(
        choices=SECOND_TEST_RULES, label="The five-year interval is earned by"
    )
    year_rule = forms.ChoiceField(choices=YEAR_RULES, label="Nuisance alarms are compared over")
    use_extension = forms.BooleanField(
        required=False, initial=True, label="Use the five-year interval where it is earned"
    )
    nuisance_log_since = Day(
        required=False,
        label="Unwanted-alarm record unbroken since",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    extension_approval = forms.CharField(
        required=False,
        max_length=200,
        label="The authority’s written approval of the five-year interval",
        help_text="Who gave it and when. Only asked where a local rule demands it.",
    )
    accreditor_windows = forms.BooleanField(
        required=False,
        label="Show the health care accreditor’s windows beside the code’s",
    )

    places = forms.MultipleChoiceField(
        choices=PLACES,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        initial=["nfpa72"],
        label="Who is told of a finding, and by when, is ruled by",
    )
    out_limits = forms.MultipleChoiceField(
        choices=_limits,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        initial=["nfpa72"],
        label="While protection is out of service, these limits hold",
        help_text="The smallest leads. Which of them hold depends on the codes adopted there.",
    )

    def clean_access_held_by(self) -> str:
        """Refuse the code itself."""
        said: str = self.cleaned_data["access_held_by"]
        try:
            check_no_secret(said)
        except UnableToChange as error:
            raise forms.ValidationError(str(error)) from error
        return said

    def facts(self) -> BuildingFacts:
        """Give what was typed."""
        return BuildingFacts(**self.cleaned_data)

    def first(self) -> list[forms.BoundField]:
        """Give what is asked first."""
        return [bound for bound in self if bound.name in self.FIRST]

    def rest(self) -> list[forms.BoundField]:
        """Give what can wait until it is known."""
        return [bound for bound in self if bound.name not in self.FIRST]

    def rest_is_open(self) -> bool:
        """Whether something that could wait was typed wrong."""
        return any(bound.errors for bound in self.rest())


class ChangeBuildingForm(BuildingForm):
    """The facts of a building that is on file: its edition has a page of its own."""

    edition = None  # type: ignore[assignment]

    def facts_under(self, edition: str) -> BuildingFacts:
        """Give what was typed, under the edition that holds."""
        return BuildingFacts(**self.cleaned_data, edition=edition)


class DescribeForm(forms.Form):
    """What a device is in the tables of a code, where it hangs, and how old it is."""

    component = forms.ChoiceField(
        required=False,
        label="As the code's tables name it",
        help_text="It decides which tasks are asked of it, and how often.",
    )
    circuit = forms.CharField(max_length=40, required=False, label="Initiating circuit or loop")
    installed_on = Day(
        required=False,
        label="Installed on",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    manufactured_on = Day(
        required=False,
        label="Made on",
        help_text="Batteries and smoke alarms are counted from it.",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    unsafe_agreement = forms.CharField(
        max_length=200,
        required=False,
        label="Unsafe to reach: who at the authority agreed to wait for a shutdown, and when",
        help_text="At most 18 months after its last test, and only with that agreement.",
    )

    def __init__(
        self, *args: Any, choices: Sequence[tuple[str, str]], usual: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        none = f"as usual: {usual}" if usual else "nobody has said"
        self.fields["component"].choices = [("", none), *choices]  # type: ignore[attr-defined]


class ProductForm(forms.Form):
    """What is marked on one product."""

    make = forms.CharField(max_length=80)
    model = forms.CharField(max_length=80)
    kind = forms.ChoiceField(choices=KINDS)
    principle = forms.CharField(max_length=40, required=False)
    marked_low = forms.DecimalField(
        required=False, min_value=0, max_value=10, decimal_places=3, label="Marked from"
    )
    marked_high = forms.DecimalField(
        required=False, min_value=0, max_value=10, decimal_places=3, label="Marked to"
    )
    is_adjustable = forms.BooleanField(
        required=False, label="Its sensitivity can be set in the field"
    )
    compensation_limit = forms.DecimalField(
        required=False,
        min_value=0,
        max_value=10,
        decimal_places=3,
        label="May correct at most",
        help_text="Stated by the maker; it wins over the share below.",
    )
    limit_share_of_setting = forms.DecimalField(
        min_value=0,
        max_value=1,
        decimal_places=3,
        initial="0.5",
        label="May correct at most this share of its most sensitive setting",
        help_text="One half is common practice for some families; no published source.",
    )
    nearing_share = forms.DecimalField(
        min_value=0,
        max_value=1,
        decimal_places=3,
        initial="0.75",
        label="Nearing its limit from this share of the allowance on",
        help_text="Three quarters is common practice; no published source.",
    )

    def clean(self) -> dict[str, object]:
        """Refuse a range that ends before it begins."""
        data = super().clean() or {}
        low, high = data.get("marked_low"), data.get("marked_high")
        if low is not None and high is not None and low >= high:
            self.add_error("marked_high", "The range ends before it begins. Swap the two.")
        return data

    def facts(self) -> ProductFacts:
        """Give what was typed."""
        return ProductFacts(**self.cleaned_data)


class CustomerForm(forms.Form):
    """The facts of a customer."""

    name = forms.CharField(max_length=160)
    address = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))
    telephone = forms.CharField(max_length=40, required=False)
    notes = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For the office only; owners do not see it.",
    )

    def facts(self) -> CustomerFacts:
        """Give what was typed."""
        return CustomerFacts(**self.cleaned_data)


class ContactForm(forms.Form):
    """The facts of a person to tell."""

    name = forms.CharField(max_length=120)
    part = forms.CharField(
        max_length=80,
        required=False,
        label="Their part",
        help_text="Facilities manager, night desk.",
    )
    email = forms.EmailField(required=False, label="Mail address")
    telephone = forms.CharField(max_length=40, required=False)
    told_of = forms.MultipleChoiceField(
        choices=TOPICS,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        initial=[key for key, _ in TOPICS],
        label="Is told of",
    )

    def facts(self) -> ContactFacts:
        """Give what was typed."""
        return ContactFacts(**self.cleaned_data)


class InstrumentForm(forms.Form):
    """The facts of an instrument."""

    name = forms.CharField(max_length=80)
    kind = forms.ChoiceField(
        choices=INSTRUMENT_KINDS,
        required=False,
        initial="sensitivity",
        label="What it measures",
        help_text="Planning asks for the kind that a visit's tasks need.",
    )
    serial = forms.CharField(max_length=60, required=False, label="Serial number")
    calibrated_on = day_field("Calibrated on")
    calibration_ends_on = day_field(
        "Calibration ends on", about="Planning warns where a visit lies after this day."
    )

    def clean_kind(self) -> str:
        """Take what is not said for a sensitivity tester, as most are."""
        return self.cleaned_data["kind"] or "sensitivity"

    def facts(self) -> InstrumentFacts:
        """Give what was typed."""
        return InstrumentFacts(**self.cleaned_data)


class RetireForm(forms.Form):
    """Since when and why an instrument is out of use."""

    on = day_field("Out of use since", required=True)
    reason = forms.CharField(max_length=160, label="Why", help_text="Lost, broken, replaced.")
