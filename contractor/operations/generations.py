"""Which generations of backups stay: all of the last two days, then of days, weeks and months."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

FORM = "%Y-%m-%dT%H-%M-%SZ"
#: The one made before an upgrade must outlast the one made after it.
ALL_OF = timedelta(days=2)


def name_of(moment: datetime) -> str:
    """Name a generation by the moment at which it was begun."""
    return moment.astimezone(UTC).strftime(FORM)


def moment_of(name: str) -> datetime:
    """Read a generation's name; ValueError if it is none."""
    return datetime.strptime(name, FORM).replace(tzinfo=UTC)


@dataclass(frozen=True)
class Keeping:
    """How many days, weeks and months are kept, the newest generation of each."""

    days: int
    weeks: int
    months: int


def to_keep(names: Iterable[str], keeping: Keeping) -> set[str]:
    """Choose what stays; the newest always does, and all that were begun two days before it.

    >>> sorted(to_keep(["2026-11-20T02-10-00Z", "2026-11-20T09-00-00Z", "2026-11-25T02-10-00Z"],
    ...                Keeping(days=2, weeks=0, months=0)))
    ['2026-11-20T09-00-00Z', '2026-11-25T02-10-00Z']
    """
    newest_first = sorted(names, reverse=True)
    if not newest_first:
        return set()
    begin = name_of(moment_of(newest_first[0]) - ALL_OF)
    kept = {name for name in newest_first if name >= begin}
    for form, count in (
        ("%Y-%m-%d", keeping.days),
        ("%G-%V", keeping.weeks),
        ("%Y-%m", keeping.months),
    ):
        periods: dict[str, str] = {}
        for name in newest_first:
            periods.setdefault(moment_of(name).strftime(form), name)
        kept |= set(list(periods.values())[:count])
    return kept
