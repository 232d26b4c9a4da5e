"""Keep a building's due dates as its case asks."""

from dataclasses import dataclass, field, replace
from datetime import date
from uuid import UUID

from django.db import transaction

from contractor.due import sums
from contractor.due.case import Key, load
from contractor.due.models import Basis, Due, LocalRule
from contractor.due.services.lining import write_lines
from contractor.register.models import Building

_COMPARED = (
    "name",
    "frequency",
    "last_done_on",
    "anchor_on",
    "earliest_on",
    "target_on",
    "latest_on",
    "basis",
    "is_extended",
    "clause",
    "edition",
    "local_rule",
    "reasons",
    "would_change",
    "note",
)


@dataclass(frozen=True)
class Refreshed:
    """What a refresh changed."""

    looked_at: int = 0
    changed: int = 0
    gone: int = 0
    moved: list[UUID] = field(default_factory=list)  # keys of the due dates that moved


def compute(
    *,
    building: Building,
    today: date,
    edition: str = "",
    more: LocalRule | None = None,
    less: LocalRule | None = None,
) -> list[Due]:
    """Compute, without writing, every due date of a building.

    Under another edition if one is named; with one local rule more, or one less.
    """
    case = load(building=building, today=today, edition=edition)
    rules = [rule for rule in case.rules if less is None or rule.pk != less.pk]
    if more is not None:
        rules.append(more)
    return sums.compute(replace(case, rules=rules))


@transaction.atomic
def refresh_building(*, building: Building, today: date) -> Refreshed:
    """Compute every due date of one building afresh and write those that moved.

    Running it twice changes nothing more. The building's row is the lock.
    """
    building = Building.objects.select_for_update(of=("self",), no_key=True).get(pk=building.pk)
    known = {
        key_of(due): due
        for due in Due.objects.filter(firm_id=building.firm_id, building=building).order_by("pk")
    }
    wanted = {key_of(due): due for due in compute(building=building, today=today)}
    new, changed = [], []
    for key, due in wanted.items():
        before = known.get(key)
        if before is None:
            new.append(due)
            continue
        if due.basis == Basis.NO_RECORD and due.anchor_on is None and before.anchor_on is None:
            due.latest_on = before.latest_on  # nothing is known: due since we first asked
        if any(getattr(before, name) != getattr(due, name) for name in _COMPARED):
            due.pk = before.pk
            changed.append(due)
    gone = [due.pk for key, due in known.items() if key not in wanted]
    if gone:
        Due.objects.filter(firm_id=building.firm_id, pk__in=gone).delete()
    Due.objects.bulk_create(new, batch_size=1000)
    # An insert that meets its own key is thirty times as fast as as many updates.
    Due.objects.bulk_create(
        changed,
        batch_size=1000,
        update_conflicts=True,
        unique_fields=["id"],
        update_fields=[*_COMPARED, "computed_on"],
    )
    if new or changed or gone:
        write_lines(firm_id=building.firm_id, building_ids=[building.pk])
    return Refreshed(
        looked_at=len(wanted),
        changed=len(new) + len(changed),
        gone=len(gone),
        moved=[due.pk for due in (*new, *changed)],
    )


def key_of(due: Due) -> Key:
    """Give what a due date is known by."""
    return (due.device_id, due.component, due.task)
