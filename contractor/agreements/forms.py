"""What the office types about agreements."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from django import forms
from django.utils.translation import gettext

from contractor.agreements.queries import BILLING
from contractor.agreements.services import Terms
from contractor.engine.editions.model import OWNERS_FREQUENCIES, TASK_WORDS
from contractor.engine.intervals import FREQUENCIES
from contractor.register.forms import day_field

if TYPE_CHECKING:
    from contractor.register.models import Building

#: How often something may be promised: what the owner's own people do is left out.
OFTEN = [(word, word.replace("_", " ")) for word in FREQUENCIES if word not in OWNERS_FREQUENCIES]


class AgreementForm(forms.Form):
    """The terms of an agreement."""

    number = forms.CharField(max_length=40)
    buildings = forms.MultipleChoiceField(
        widget=forms.CheckboxSelectMultiple, required=False, label="It covers"
    )
    starts_on = day_field("From", required=True)
    ends_on = day_field("To", about="Leave it empty where no end was agreed.")
    tasks = forms.MultipleChoiceField(
        choices=list(TASK_WORDS.items()),
        widget=forms.CheckboxSelectMultiple,
        required=False,
        label="Promised tasks",
    )
    price = forms.DecimalField(
        required=False,
        min_value=0,
        max_digits=10,
        decimal_places=2,
        label="Price, each time",
    )
    billing = forms.ChoiceField(choices=BILLING, initial="yearly", label="Billed")
    renewal_months = forms.IntegerField(
        required=False, min_value=1, max_value=120, label="Renews by itself for so many months"
    )
    notice_days = forms.IntegerField(
        required=False, min_value=1, max_value=730, label="Notice, so many days before its end"
    )
    instructions = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        label="Keys, escorts, hours, badges",
    )
    elevator = forms.CharField(
        required=False, max_length=160, label="Elevator technician: who brings one, and whom"
    )
    insurance = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        label="Insurance that the customer asks for",
    )
    licences = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        label="Licences that the customer asks for",
    )
    notes = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, buildings: Sequence["Building"], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._buildings = {str(one.pk): one for one in buildings}
        self.fields["buildings"].choices = [  # type: ignore[attr-defined]
            (key, one.name) for key, one in self._buildings.items()
        ]
        for key, words in TASK_WORDS.items():
            self.fields[f"often_{key}"] = forms.ChoiceField(
                required=False,
                choices=[("", "as often as the code asks"), *OFTEN],
                label=gettext("How often: %(task)s") % {"task": gettext(words)},
            )

    @property
    def promises(self) -> list[tuple[Any, forms.BoundField]]:
        """Pair each task's tick with how often it was promised."""
        ticks = list(self["tasks"])
        return [(tick, self[f"often_{key}"]) for tick, key in zip(ticks, TASK_WORDS, strict=True)]

    @property
    def before_tasks(self) -> list[forms.BoundField]:
        """The fields above the promised tasks."""
        return [self[name] for name in ("number", "buildings", "starts_on", "ends_on")]

    @property
    def after_tasks(self) -> list[forms.BoundField]:
        """The fields below the promised tasks."""
        names = list(self.base_fields)
        return [self[name] for name in names[names.index("tasks") + 1 :]]

    def terms(self) -> Terms:
        """Give what was typed."""
        data = dict(self.cleaned_data)
        data.pop("buildings")
        often = {key: data.pop(f"often_{key}") for key in TASK_WORDS}
        return Terms(**data, often={key: often[key] for key in data["tasks"] if often.get(key)})

    def covered(self) -> list["Building"]:
        """Give the buildings that were ticked."""
        return [self._buildings[key] for key in self.cleaned_data["buildings"]]
