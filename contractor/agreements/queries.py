"""Read what was promised, and set it beside what the code asks."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Count, DateField, ExpressionWrapper, F, Min, Q, QuerySet

from contractor.agreements.models import AgreedBuilding, Agreement, Billing
from contractor.due.models import Due
from contractor.engine.editions.model import COMPONENTS, OWNERS_FREQUENCIES, TASK_WORDS
from contractor.engine.intervals import FREQUENCIES, is_oftener
from contractor.register.models import Building, Customer

Missing = Agreement.DoesNotExist
BILLING = Billing.choices
#: An end within this many days is shown first: common practice, no source.
NEAR = timedelta(days=90)
#: Tasks that fall to the firm. What the owner's own people do daily to monthly is left out.
_OWNERS = [FREQUENCIES.index(word) for word in OWNERS_FREQUENCIES]


def list_ending(*, firm_id: UUID, today: date, until: date) -> QuerySet[Agreement]:
    """List the agreements that end between today and a day, the next first."""
    return (
        Agreement.objects.filter(firm_id=firm_id, ends_on__gte=today, ends_on__lte=until)
        .select_related("customer")
        .order_by("ends_on", "number", "pk")
    )


def list_agreements(*, firm_id: UUID, today: date, show: str = "running") -> QuerySet[Agreement]:
    """List agreements that run or are to come, the next end first; to renew; or ended.

    To renew is what ends soon, or whose last day for notice comes soon.
    """
    found = Agreement.objects.filter(firm_id=firm_id).select_related("customer")
    if show == "ended":
        found = found.filter(ends_on__lt=today).order_by("-ends_on", "number", "pk")
    else:
        found = found.filter(Q(ends_on=None) | Q(ends_on__gte=today)).order_by(
            F("ends_on").asc(nulls_last=True), "number", "pk"
        )
    if show == "renewing":
        notice_on = ExpressionWrapper(F("ends_on") - F("notice_days"), output_field=DateField())
        found = found.annotate(last_notice_on=notice_on).filter(
            Q(ends_on__lte=today + NEAR)
            | Q(last_notice_on__gte=today, last_notice_on__lte=today + NEAR)
        )
    return found.annotate(buildings=Count("agreedbuilding"))


def list_agreements_of(*, customer: Customer) -> QuerySet[Agreement]:
    """List a customer's agreements, the latest end first."""
    return (
        Agreement.objects.filter(firm_id=customer.firm_id, customer=customer)
        .annotate(buildings=Count("agreedbuilding"))
        .order_by(F("ends_on").desc(nulls_first=True), "number", "pk")
    )


def get_agreement(*, firm_id: UUID, agreement_id: UUID) -> Agreement:
    """Get one agreement with its customer."""
    return Agreement.objects.select_related("customer").get(firm_id=firm_id, pk=agreement_id)


def list_covered(*, agreement: Agreement) -> list[Building]:
    """List the buildings that an agreement covers, by name."""
    found = AgreedBuilding.objects.filter(firm_id=agreement.firm_id, agreement=agreement)
    return [
        one.building
        for one in found.select_related("building").order_by("building__name", "building_id")
    ]


class Asked(NamedTuple):
    """What the code asks of one building under one task, and what was promised of it."""

    task: str
    words: str
    components: tuple[str, ...]
    items: int  # devices, or tasks of the whole building
    frequency: str  # the oftenest that is asked; empty where no window rules
    next_on: date | None
    promised: bool
    often: str  # what was agreed; empty: as asked

    @property
    def standing(self) -> str:
        """How the promise stands: same, rarer, not promised, or more than is asked."""
        if not self.items:
            return "more"
        if not self.promised:
            return "missing"
        if self.often and self.frequency and is_oftener(frequency=self.frequency, than=self.often):
            return "rarer"
        return "same"

    @property
    def asked_words(self) -> str:
        """How often the code asks, in words."""
        return self.frequency.replace("_", "-") or "by a rule of its own"

    @property
    def often_words(self) -> str:
        """How often it was promised, in words; empty: as asked."""
        return self.often.replace("_", "-")


@dataclass(frozen=True)
class Compared:
    """One building: what is asked and what was promised, side by side."""

    building: Building
    rows: tuple[Asked, ...]

    @property
    def gaps(self) -> int:
        """How many tasks are asked and not promised, or promised too rarely."""
        return sum(row.standing in ("missing", "rarer") for row in self.rows)


def compare(*, agreement: Agreement, buildings: Sequence[Building]) -> list[Compared]:
    """Set what was promised beside what the adopted code asks, building by building."""
    asked: dict[UUID, dict[str, list[dict[str, Any]]]] = defaultdict(lambda: defaultdict(list))
    rows = (
        Due.objects.filter(firm_id=agreement.firm_id, building__in=buildings)
        .filter(Q(frequency=None) | ~Q(frequency__in=_OWNERS))
        .values("building_id", "task", "name", "component")
        .annotate(items=Count("pk"), next=Min("latest_on"), oftenest=Min("frequency"))
        .order_by("building_id", "task", "component")
    )
    for row in rows:
        asked[row["building_id"]][row["task"]].append(row)
    return [
        Compared(building, tuple(_rows(agreement, asked.get(building.pk, {}))))
        for building in buildings
    ]


def _rows(agreement: Agreement, asked: dict[str, list[dict[str, Any]]]) -> list[Asked]:
    order = list(TASK_WORDS)
    keys = sorted(
        {*asked, *agreement.tasks},
        key=lambda key: (order.index(key) if key in order else len(order), key),
    )
    found = []
    for key in keys:
        rows = asked.get(key, [])
        places = [row["oftenest"] for row in rows if row["oftenest"] is not None]
        named = next((str(row["name"]) for row in rows if row["name"]), "")
        found.append(
            Asked(
                task=key,
                words=named or TASK_WORDS.get(key, key),
                components=tuple(
                    COMPONENTS[str(row["component"])].name
                    for row in rows
                    if row["component"] in COMPONENTS
                ),
                items=sum(row["items"] for row in rows),
                frequency=FREQUENCIES[min(places)] if places else "",
                next_on=min((row["next"] for row in rows), default=None),
                promised=key in agreement.tasks,
                often=agreement.often.get(key, ""),
            )
        )
    return found
