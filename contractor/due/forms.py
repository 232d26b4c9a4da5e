"""What the office types about local rules, changes of edition, software, and what was done."""

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django import forms
from django.utils.translation import gettext

from contractor.due.queries import EFFECTS, SOFTWARE_KINDS
from contractor.due.services import Offer, RuleFacts
from contractor.engine import editions
from contractor.engine.editions.comparing import compare
from contractor.engine.editions.model import COMPONENTS
from contractor.engine.intervals import FREQUENCIES, order_of
from contractor.tenancy.days import Day

RESULTS = [("pass", "it passed"), ("fail", "it failed")]


def _day(label: str, **more: Any) -> Day:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    said = {"required": "Give the day.", "invalid": "That is no day. Write it as 2026-02-10."}
    return Day(label=label, widget=widget, error_messages=said, **more)


def _lacking(sentence: str) -> dict[str, str]:
    return {"required": sentence}


def _editions() -> list[tuple[str, str]]:
    return [(key, editions.get(key).title) for key in editions.keys()]  # noqa: SIM118


def _frequencies() -> list[tuple[str, str]]:
    words = sorted(FREQUENCIES, key=order_of)
    return [("", "choose"), *[(word, word.replace("_", "-")) for word in words]]


def _windowed() -> list[tuple[str, str]]:
    """List the tasks that have a frequency in any edition, as component:task."""
    return [
        ("", "choose"),
        *[
            (f"{line.component}:{line.task}", f"{gettext(line.name)}: {gettext(line.words)}")
            for line in compare()
            if any(row is not None and row.frequency in FREQUENCIES for row in line.rows)
        ],
    ]


#: What each sort of local rule needs to be told; the page hides the rest.
_NEEDED = {"oftener": ("row", "frequency"), "extra": ("component", "name", "frequency")}


class LocalRuleForm(forms.Form):
    """What a jurisdiction asks beyond the adopted edition."""

    use_required_attribute = False  # a browser would refuse what the page hides

    jurisdiction = forms.ChoiceField(
        label="Jurisdiction", help_text="As it stands on the firm's buildings."
    )
    effect = forms.ChoiceField(
        choices=EFFECTS, widget=forms.RadioSelect, label="What the rule does", initial="oftener"
    )
    row = forms.ChoiceField(
        choices=_windowed,
        label="Which task, of what",
        error_messages=_lacking("Choose the task that is done more often."),
    )
    component = forms.ChoiceField(
        choices=lambda: [("", "choose"), *[(key, c.name) for key, c in COMPONENTS.items()]],
        label="To what it is done",
        error_messages=_lacking("Choose what it is done to."),
    )
    name = forms.CharField(
        max_length=80,
        label="What is done, in a few words",
        error_messages=_lacking("Say what is done, in a few words."),
    )
    frequency = forms.ChoiceField(
        choices=_frequencies,
        label="How often",
        help_text="A rule never makes a task rarer than the edition has it.",
        error_messages=_lacking("Choose how often it is done."),
    )
    reason = forms.CharField(
        max_length=240,
        widget=forms.Textarea(attrs={"rows": 2}),
        label="Where it is written, and why it holds",
        error_messages=_lacking("Say where it is written, and why it holds."),
    )
    from_on = _day("Holds from")

    def __init__(self, *args: Any, jurisdictions: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(name, name) for name in jurisdictions]
        self.fields["jurisdiction"].choices = choices  # type: ignore[attr-defined]
        if self.is_bound:
            needed = _NEEDED.get(self.data.get("effect", ""), ())
            for field in ("row", "component", "name", "frequency"):
                self.fields[field].required = field in needed

    def facts(self) -> RuleFacts:
        """Give what was said."""
        said = self.cleaned_data
        row_of, _, task = said["row"].partition(":")
        oftener = said["effect"] == "oftener"
        return RuleFacts(
            jurisdiction=said["jurisdiction"],
            effect=said["effect"],
            reason=said["reason"],
            from_on=said["from_on"],
            component=row_of if oftener else said["component"],
            task=task if oftener else "",
            name=said["name"],
            frequency=said["frequency"],
        )


class EndRule(forms.Form):
    """From when a local rule no longer holds."""

    until_on = _day("No longer holds from")
    reason = forms.CharField(
        max_length=240,
        widget=forms.Textarea(attrs={"rows": 2}),
        label="Why it no longer holds",
        error_messages=_lacking("Say why it no longer holds."),
    )


class ChooseEdition(forms.Form):
    """Which buildings go over to which edition, and when."""

    of = forms.ChoiceField(label="Which buildings")
    edition = forms.ChoiceField(choices=_editions, label="Edition")
    from_on = _day("From")

    def __init__(
        self,
        *args: Any,
        buildings: Sequence[tuple[UUID, str]],
        jurisdictions: Sequence[str],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["of"].choices = [  # type: ignore[attr-defined]
            (
                gettext("all of a jurisdiction"),
                [
                    (f"jurisdiction:{name}", gettext("all of %(place)s") % {"place": name})
                    for name in jurisdictions
                ],
            ),
            (gettext("one building"), [(f"building:{key}", name) for key, name in buildings]),
        ]


class ConfirmEdition(forms.Form):
    """Which adoption a change follows."""

    reason = forms.CharField(
        max_length=240,
        label="Which adoption this follows",
        help_text="An ordinance, a notice, the day of adoption.",
        error_messages=_lacking("Say which adoption this follows: an ordinance, a notice, a date."),
    )


class DoneBefore(forms.Form):
    """Tasks that were done before, or by somebody else."""

    tasks = forms.MultipleChoiceField(
        widget=forms.CheckboxSelectMultiple,
        label="What was done",
        error_messages=_lacking("Tick at least one task."),
    )
    done_on = _day("On which day")
    result = forms.ChoiceField(
        choices=RESULTS, widget=forms.RadioSelect, initial="pass", label="With what result"
    )
    evidence = forms.CharField(
        max_length=200,
        label="Who did it, and what shows it",
        help_text="A report and its number, a label, a log.",
        error_messages=_lacking("Say who did it and what shows it: a report, a label, a log."),
    )
    component = forms.ChoiceField(required=False, label="Only to")
    areas = forms.MultipleChoiceField(
        required=False, widget=forms.CheckboxSelectMultiple, label="Only in (none ticked: anywhere)"
    )
    addresses = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        label="Only these addresses",
        help_text="Set apart by spaces or commas. Left empty, it is all of them.",
    )

    def __init__(
        self,
        *args: Any,
        offers: Sequence[Offer],
        components: Sequence[str],
        areas: Sequence[tuple[UUID, str]],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tasks"].choices = [  # type: ignore[attr-defined]
            (offer.task, offer.label) for offer in offers
        ]
        self.fields["component"].choices = [  # type: ignore[attr-defined]
            ("", "everything that is asked for it"),
            *[(key, COMPONENTS[key].name) for key in components],
        ]
        self.fields["areas"].choices = [  # type: ignore[attr-defined]
            (str(key), name) for key, name in areas
        ]


class WithdrawDone(forms.Form):
    """Why something no longer counts."""

    which = forms.ChoiceField(
        choices=[("entry", "everything entered with it"), ("row", "this one only")],
        widget=forms.RadioSelect,
        initial="entry",
        label="What",
    )
    reason = forms.CharField(
        max_length=200,
        label="Why it no longer counts",
        error_messages=_lacking("Say why it no longer counts."),
    )

    def __init__(self, *args: Any, several: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not several:
            del self.fields["which"]


class SoftwareForm(forms.Form):
    """What software was changed, and what it touched."""

    kind = forms.ChoiceField(
        choices=SOFTWARE_KINDS,
        widget=forms.RadioSelect,
        initial="site",
        label="Which software was changed",
    )
    changed_on = _day("On which day")
    what = forms.CharField(
        max_length=240,
        widget=forms.Textarea(attrs={"rows": 2}),
        label="What was changed, and by whom",
        error_messages=_lacking("Say what was changed and by whom."),
    )
    areas = forms.MultipleChoiceField(
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Zones that it touches (none ticked: none as a whole)",
    )
    addresses = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        label="Addresses that it touches besides",
        help_text="Set apart by spaces or commas.",
    )

    def __init__(self, *args: Any, areas: Sequence[tuple[UUID, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["areas"].choices = [  # type: ignore[attr-defined]
            (str(key), name) for key, name in areas
        ]
