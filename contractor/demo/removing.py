"""Remove what the demo made up: every row, every file, and the people who sit nowhere else."""

from dataclasses import dataclass

from django.core.files.storage import default_storage
from django.db import connection, transaction

from contractor.demo import scenario
from contractor.owners.models import OwnerSeat
from contractor.readings.models import Reading
from contractor.register.models import Building, Device
from contractor.reports.models import Report
from contractor.tenancy.models import Firm, FirmProfile, Member, User
from contractor.tenancy.queries import has_had_seat
from contractor.tenancy.scope import scope
from contractor.visits.models import Visit


class UnableToRemove(Exception):
    """The firm was not made up; the text says what to do."""


@dataclass(frozen=True)
class Invented:
    """One made-up firm, and what goes with it."""

    firm: Firm
    name: str
    counts: tuple[tuple[str, int], ...]
    people: tuple[str, ...]


NOUNS = (
    ("buildings", Building),
    ("devices", Device),
    ("readings", Reading),
    ("visits", Visit),
    ("reports", Report),
)


def count(*, firm: Firm) -> Invented | None:
    """Count what would go with the active firm; None if it was not made up."""
    profile = FirmProfile.objects.filter(firm=firm, is_invented=True).first()
    if profile is None:
        return None
    counts = tuple((noun, model.objects.filter(firm=firm).count()) for noun, model in NOUNS)
    people = sorted(person.email for person in _people())
    return Invented(firm, profile.name, counts, tuple(people))


def list_invented() -> list[Invented]:
    """List the firms that the demo made up, with what would go."""
    found = []
    for firm in Firm.objects.order_by("slug"):
        with scope(firm.pk):
            if one := count(firm=firm):
                found.append(one)
    return found


def list_others(*, firm: Firm) -> list[str]:
    """Name the other firms of the same scenario that are here; they go too."""
    slugs = set(Firm.objects.exclude(pk=firm.pk).values_list("slug", flat=True))
    return [one.name for one in scenario.CONTRACTORS if one.slug in slugs]


def remove_invented() -> int:
    """Remove every firm that the demo made up; give how many.

    Each goes whole or not at all. Files go after the rows: without a row nobody can ask for one.
    """
    gone = 0
    for one in list_invented():
        remove(firm=one.firm)
        gone += 1
    return gone


def remove(*, firm: Firm) -> None:
    """Remove one made-up firm.

    Raises
    ------
    UnableToRemove
        If it was not made up.
    """
    with transaction.atomic():
        with scope(firm.pk):
            if not FirmProfile.objects.filter(firm=firm, is_invented=True).exists():
                raise UnableToRemove(
                    "Only a firm that the demo made up can be removed. Of any other, records are"
                    " kept for as long as they must be."
                )
            people = [person.pk for person in _people()]
            with connection.cursor() as cursor:
                cursor.execute("select demo_remove_firm()")
        gone = [person for person in people if not has_had_seat(user_id=person)]
        with scope(firm.pk):  # what hangs on a person is asked for on their removal
            User.objects.filter(pk__in=gone).delete()
    _remove_files(f"{firm.pk}")


def _people() -> list[User]:
    seats = (Member, OwnerSeat)
    keys = {key for seat in seats for key in seat.objects.values_list("user_id", flat=True)}
    return list(User.objects.filter(pk__in=keys))


def _remove_files(folder: str) -> None:
    if not default_storage.exists(folder):
        return
    folders, files = default_storage.listdir(folder)
    for name in files:
        default_storage.delete(f"{folder}/{name}")
    for name in folders:
        _remove_files(f"{folder}/{name}")
    default_storage.delete(folder)
