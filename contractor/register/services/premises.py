"""Change buildings, and the areas in them."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext

from contractor import jobs
from contractor.engine import editions
from contractor.register.models import (
    Area,
    Building,
    Customer,
    System,
    usual_limits,
    usual_places,
)
from contractor.register.services.errors import UnableToChange
from contractor.tenancy.models import Member
from contractor.tenancy.services import plain, write_audit


@dataclass(frozen=True)
class BuildingFacts:
    """What the office says of a building."""

    name: str
    street: str = ""
    town: str = ""
    region: str = ""
    postcode: str = ""
    time_zone: str = "America/New_York"
    edition: str = "nfpa72-2019"
    jurisdiction: str = ""
    authority: str = ""
    authority_address: str = ""
    monitoring: str = ""
    instructions: str = ""
    releasing: str = ""
    access_held_by: str = ""
    second_test_rule: str = "code"
    year_rule: str = "rolling"
    use_extension: bool = True
    nuisance_log_since: date | None = None
    extension_approval: str = ""
    accreditor_windows: bool = False
    places: list[str] = field(default_factory=usual_places)
    out_limits: list[str] = field(default_factory=usual_limits)


@transaction.atomic
def add_building(
    *, customer: Customer, facts: BuildingFacts, member: Member | None, now: datetime
) -> Building:
    """Add a building with its first alarm system."""
    _check_edition(facts.edition)
    check_no_secret(facts.access_held_by)
    building = Building.objects.create(
        firm_id=customer.firm_id, customer=customer, **facts.__dict__
    )
    System.objects.create(firm_id=customer.firm_id, building=building, name="Main system")
    write_audit(
        member=member, action="building.added", subject=building, summary=building.name, now=now
    )
    return building


@transaction.atomic
def change_building(
    *, building: Building, facts: BuildingFacts, member: Member, now: datetime
) -> Building:
    """Change what is known of a building, and renew its due dates."""
    _check_edition(facts.edition)
    check_no_secret(facts.access_held_by)
    building = Building.objects.select_for_update(of=("self",)).get(pk=building.pk)
    changes = {
        name: value for name, value in facts.__dict__.items() if getattr(building, name) != value
    }
    if not changes:
        return building
    before = {name: plain(getattr(building, name)) for name in changes}
    for name, value in changes.items():
        setattr(building, name, value)
    building.save(update_fields=list(changes))
    write_audit(
        member=member,
        action="building.changed",
        subject=building,
        summary=", ".join(sorted(changes)),
        before=before,
        after={name: plain(value) for name, value in changes.items()},
        now=now,
    )
    jobs.enqueue("due.refresh_building", firm_id=building.firm_id, building_id=building.pk)
    return building


def _check_edition(key: str) -> None:
    if key not in set(editions.keys()):
        raise UnableToChange(
            gettext("No rules are kept for %(key)s. Choose one of the listed editions.")
            % {"key": key}
        )


#: What reads like a secret: "code 4711", "The code for the panel: 4711"; no "code: 14th floor".
_SECRET = re.compile(
    r"\b(?:password|passcode|passphrase|code|pin)s?\b"
    r"(?:[\w\s]{0,30}(?::|=|#|\bis\b)|)\s*(?=[^\s.,;]*\d)(?!\d+(?:st|nd|rd|th)\b)[^\s.,;]{4,}",
    re.IGNORECASE,
)


def check_no_secret(said: str) -> None:
    """Refuse a code among the words that say who holds it.

    Raises
    ------
    UnableToChange
        If it reads as if the secret itself stood there.
    """
    if _SECRET.search(said):
        raise UnableToChange(
            "This reads as if the code itself stood here, where many people read it. Write who"
            " holds it and where it lies, not the code."
        )


@transaction.atomic
def add_areas(*, building: Building, names: Iterable[str]) -> dict[str, UUID]:
    """Add the areas that a building has not, as zones; answer all of its areas by folded name."""
    areas = Area.objects.filter(firm_id=building.firm_id, building=building)
    known = {name.casefold(): pk for name, pk in areas.values_list("name", "pk")}
    missing = {name.casefold(): name for name in names if name.casefold() not in known}
    last = areas.aggregate(last=Max("position"))["last"] or 0
    made = Area.objects.bulk_create(
        Area(firm_id=building.firm_id, building=building, name=name, position=last + place)
        for place, name in enumerate(missing.values(), start=1)
    )
    return known | {area.name.casefold(): area.pk for area in made}
