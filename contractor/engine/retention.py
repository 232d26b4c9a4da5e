"""How long a record of tests must be kept, and why.

Every floor applies at once: the latest of their days holds. A firm may keep longer, never shorter.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from contractor.engine.months import add_months


@dataclass(frozen=True, slots=True)
class Floor:
    """One rule of one place: so long at least. Restated in our own words."""

    kind: str
    says: str
    clause: str
    applies: str
    grade: str
    months: int = 0  # after the day of the record
    next_tests: int = 0  # so many later tests of the same kind first
    months_after: int = 0  # after the last of those


KINDS = {
    "test": "inspection and test records",
    "sensitivity": "sensitivity records",
}

_UNTIL_NEXT = "kept until the next test of that kind, and for one year after it"
_THREE_YEARS = "kept for three years at least, on the premises, with a copy to the official"

#: Source of each: its clause and grade. The fire code is held everywhere: who adopted it we do not
#: know of each place, and keeping longer harms nobody.
FLOORS: tuple[Floor, ...] = (
    *(
        Floor(
            kind,
            _UNTIL_NEXT,
            "NFPA 72, 14.6.2.1 (2010); 7.7 in later editions",
            "every adopted edition",
            "2010 confirmed by a survey report that restates it; later numbering from memory",
            next_tests=1,
            months_after=12,
        )
        for kind in KINDS
    ),
    *(
        Floor(
            kind,
            _THREE_YEARS,
            "IFC, 901.6.2 (2006), later 901.6.3",
            "places that adopted the International Fire Code; held everywhere",
            "confirmed by published text of the code",
            months=36,
        )
        for kind in KINDS
    ),
    Floor(
        "sensitivity",
        "the longer interval is earned by two tests, so both are needed until the next one after",
        "NFPA 72, 14.4.4.3 (2013)",
        "every adopted edition",
        "our reading, no clause asks it in words",
        next_tests=2,
        months_after=12,
    ),
)


@dataclass(frozen=True, slots=True)
class KeptUntil:
    """The last day on which a record must be kept, or none that is known yet; and why."""

    day: date | None
    reasons: tuple[str, ...]

    def may_go(self, *, today: date) -> bool:
        """Tell whether nothing asks any longer that it is kept."""
        return self.day is not None and self.day < today


def list_floors(*, kind: str) -> list[Floor]:
    """List the floors of a kind of record.

    Parameters
    ----------
    kind : str
        Key of KINDS.

    Raises
    ------
    ValueError
        If there is no such kind.

    Source: FLOORS, each with its clause.

    >>> [floor.months for floor in list_floors(kind="test")]
    [0, 36]
    """
    if kind not in KINDS:
        raise ValueError(f"There is no kind of record {kind!r}.")
    return [floor for floor in FLOORS if floor.kind == kind]


def keep_until(
    *, kind: str, made_on: date, later: Sequence[date], years: int | None = None
) -> KeptUntil:
    """Compute how long one record must be kept.

    Parameters
    ----------
    kind : str
        Key of KINDS.
    made_on : date
        Day of the work.
    later : sequence of date
        Days of the later tests of the same kind, in order.
    years : int, optional
        How long the firm keeps this kind. [years]

    Returns
    -------
    KeptUntil
        Without a day while a later test is still awaited.

    Raises
    ------
    ValueError
        If there is no such kind.

    Source: FLOORS, each with its clause.

    >>> keep_until(kind="test", made_on=date(2020, 3, 1), later=[date(2021, 3, 1)]).day
    datetime.date(2023, 3, 1)
    >>> keep_until(kind="test", made_on=date(2020, 3, 1), later=[]).day is None
    True
    """
    days: list[date] = []
    reasons, is_open = [], False
    for floor in list_floors(kind=kind):
        if floor.next_tests > len(later):
            is_open = True
            reasons.append(f"{floor.clause}: {floor.says}; that test is not done yet")
            continue
        start = later[floor.next_tests - 1] if floor.next_tests else made_on
        end = add_months(start, floor.months_after + floor.months)
        days.append(end)
        reasons.append(f"{floor.clause}: {floor.says}, {end:%-d %b %Y}")
    if years is not None:
        end = add_months(made_on, 12 * years)
        days.append(end)
        reasons.append(f"the firm keeps it for {years} years, {end:%-d %b %Y}")
    return KeptUntil(None if is_open else max(days), tuple(reasons))


def shortest_years(*, kind: str) -> int:
    """Give the years below which no firm's own rule may lie.

    Parameters
    ----------
    kind : str
        Key of KINDS.

    Raises
    ------
    ValueError
        If there is no such kind.

    Source: FLOORS, those that count from the day of the record.

    >>> shortest_years(kind="sensitivity")
    3
    """
    months = max(floor.months for floor in list_floors(kind=kind))
    return -(-months // 12)
