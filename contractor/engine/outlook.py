"""Look years ahead: when each task falls due again, and the fewest visits that do them all.

Every window is counted from the day of the time before, as the code counts. A task that meets its
targets keeps its first anchor: months are added to that, so the end of a month stays the end.
"""

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from contractor.engine import life
from contractor.engine.editions.windows import Span
from contractor.engine.months import add_months, as_day
from contractor.engine.rounds import fewest

_DAY = timedelta(days=1)

#: A task with a latest day only may be brought forward so far, to share a visit: our assumption.
FORWARD_MONTHS = 6


@dataclass(frozen=True, slots=True)
class Strand:
    """One task that falls due next within a window, and how it comes again.

    `anchor` is the day that its targets are counted from, None where the next day has another
    origin; `span` how the time after it lies, None where it falls due once. Without `earliest` a
    window has a latest day only.
    """

    latest: date
    target: date | None = None
    earliest: date | None = None
    anchor: date | None = None
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Time:
    """One time of one strand: its place among the strands, its window, the day it is done."""

    strand: int
    earliest: date
    target: date
    latest: date
    day: date


@dataclass(frozen=True, slots=True)
class Trip:
    """One visit: its day, and what it does."""

    day: date
    times: tuple[Time, ...]


@dataclass(frozen=True, slots=True)
class _Next:
    """Where a strand stands: the anchor, which target of it comes next, and that window."""

    strand: int
    anchor: date | None
    step: int
    earliest: date
    target: date
    latest: date

    @property
    def days(self) -> tuple[date, date, date]:
        return self.earliest, self.target, self.latest


def span_of_maximum(months: int) -> Span:
    """Give the span of a task that comes at most so many months after the last time.

    Parameters
    ----------
    months : int
        At most so long. [months]

    Source: our reading; the day itself is the latest, without grace.

    >>> span_of_maximum(24).late_months
    24
    """
    return Span(f"at most {months} months after the last time", months, 0, months)


def list_times(*, strand: Strand, until: date) -> list[date]:
    """List the targets of one strand up to a day, if each is met.

    Parameters
    ----------
    strand : Strand
        With an anchor and a span.
    until : date
        Last day of the outlook.

    Raises
    ------
    ValueError
        If the strand has no anchor or no span of months.

    Source: months are added to the one anchor, as RFC 7529 counts with SKIP=BACKWARD.

    >>> from contractor.engine.editions.windows import WINDOW_RULES
    >>> monthly = Strand(date(2014, 2, 28), anchor=date(2014, 1, 31), span=span_of_maximum(1))
    >>> [str(day) for day in list_times(strand=monthly, until=date(2014, 4, 30))]
    ['2014-02-28', '2014-03-31', '2014-04-30']
    """
    span = _checked(strand.span)
    if strand.anchor is None or span is None:
        raise ValueError("A series needs a day that it is counted from, and how often it comes.")
    found: list[date] = []
    step = 1
    while (day := add_months(strand.anchor, span.months * step)) <= until:
        found.append(day)
        step += 1
    return found


def plan_trips(
    *,
    strands: Sequence[Strand],
    as_of: date,
    begin_on: date | None = None,
    until: date,
    forward_months: int = FORWARD_MONTHS,
) -> list[Trip]:
    """Plan the visits of years ahead, as few as the windows allow.

    The next visit is always the first of the fewest that meet all windows as they stand then. A
    task waits for a later visit if one comes nearer to its target. Each window counts from the
    day on which the plan does the task before.

    Parameters
    ----------
    strands : sequence of Strand
        What is done, with the window in which it falls due next.
    as_of : date
        Today: nothing is planned before it.
    begin_on : date, optional
        Day on which work that is late is taken to be done; today by default.
    until : date
        Last day of the outlook.
    forward_months : int, default 6
        How much earlier than its latest day a task without an earliest one may be done to share
        a visit. [months]

    Returns
    -------
    list of Trip
        In order of days; each window that closes by `until` is met.

    Raises
    ------
    ValueError
        If a window ends before it begins, or a span is not one of months.

    Source: `rounds.fewest`, taken visit by visit.

    >>> annual = Span("annual", 12, 9, 15)
    >>> due = Strand(date(2026, 4, 15), date(2026, 1, 15), date(2025, 10, 15), date(2025, 1, 15),
    ...              annual)
    >>> trips = plan_trips(strands=[due], as_of=date(2025, 12, 1), until=date(2028, 1, 1))
    >>> [str(trip.day) for trip in trips]
    ['2026-01-15', '2027-01-15']
    """
    begin_on = max(as_day(begin_on or as_of), as_day(as_of))
    waiting = [
        _first(place, strand, as_of, begin_on, forward_months)
        for place, strand in enumerate(strands)
    ]
    trips: list[Trip] = []
    while waiting := [one for one in waiting if one.earliest <= until]:
        chosen = _choose(waiting, strands, forward_months)
        day = fewest([one.days for one in chosen])[0].day
        if day > until:
            break
        served = {one.strand for one in chosen}
        times = tuple(
            Time(one.strand, one.earliest, one.target, one.latest, day)
            for one in waiting
            if one.strand in served
        )
        trips.append(Trip(day, times))
        after = []
        for one in waiting:
            if one.strand not in served:
                after.append(one)
            elif (span := strands[one.strand].span) is not None:
                after.append(_following(one, span, day, forward_months))
        waiting = after
    return trips


def _choose(waiting: list[_Next], strands: Sequence[Strand], forward_months: int) -> list[_Next]:
    """Choose what the next visit does: what must, and what has no better visit ahead."""
    first = fewest([one.days for one in waiting])[0]
    chosen = sorted((waiting[place] for place in first.served), key=lambda one: one.latest)
    # What is due first is done in any case; the others may wait, the most patient first.
    for one in reversed(chosen[1:]):
        others = [other for other in chosen if other is not one]
        day = fewest([other.days for other in others])[0].day
        for other in others:
            span = strands[other.strand].span
            if span is None:
                continue
            again = _following(other, span, day, forward_months).target
            if day < again <= one.latest and abs(again - one.target) < abs(day - one.target):
                chosen.remove(one)
                break
    return chosen


def _first(place: int, strand: Strand, as_of: date, begin_on: date, forward_months: int) -> _Next:
    _checked(strand.span)
    if strand.latest < as_of:
        return _Next(place, None, 0, begin_on, begin_on, begin_on)
    earliest = strand.earliest or add_months(strand.latest, -forward_months)
    target = strand.target or strand.latest
    if not earliest <= target <= strand.latest:
        raise ValueError(
            f"A window from {earliest} by {target} to {strand.latest} is out of order."
        )
    if target < as_of:
        return _Next(place, None, 0, as_of, as_of, strand.latest)
    return _Next(place, strand.anchor, 1, max(earliest, as_of), target, strand.latest)


def _following(one: _Next, span: Span, day: date, forward_months: int) -> _Next:
    """Give the next window: its ends from the day, its target from the anchor if that was met."""
    anchor, step = (one.anchor, one.step) if one.anchor and day == one.target else (day, 0)
    latest = add_months(day, span.late_months) + span.late_days * _DAY
    opens = span.early_months or max(0, span.late_months - forward_months)
    earliest = add_months(day, opens) + span.early_days * _DAY
    target = add_months(anchor, (step + 1) * span.months)
    # From the 31st the target may lie days beyond what the shorter month allows.
    target = min(max(target, earliest), latest)
    return _Next(one.strand, anchor, step + 1, earliest, target, latest)


def _checked(span: Span | None) -> Span | None:
    if span is not None and (span.calendar or span.months < 1):
        raise ValueError("Only spans of months are looked ahead; days and weeks are no visits.")
    return span


def plan_heat_years[Head: Hashable](
    *,
    heads: Sequence[Head],
    tested: Iterable[tuple[Head, int]],
    year: int,
    until_year: int,
    edition: str,
) -> dict[int, tuple[Head, ...]]:
    """Propose which restorable heat detectors of one circuit to test in each year ahead.

    Parameters
    ----------
    heads : sequence
        All restorable heat detectors of the circuit, in the order of a round.
    tested : iterable of (head, year)
        Every test so far.
    year : int
        First year; what was tested in it already is left out.
    until_year : int
        Last year.
    edition : str
        Key of the adopted edition.

    Raises
    ------
    NoLifeRule
        If the edition has no such sample.

    Source: `life.plan_heat`, year by year, each as if the years before it were done as planned.

    >>> plan = plan_heat_years(heads=["h1", "h2", "h3"], tested=[("h1", 2025)], year=2026,
    ...                        until_year=2027, edition="nfpa72-2013")
    >>> plan[2027]
    ('h1', 'h2')
    """
    done = list(tested)
    found: dict[int, tuple[Head, ...]] = {}
    for planned in range(year, until_year + 1):
        plan = life.plan_heat(heads=heads, tested=done, year=planned, edition=edition)
        found[planned] = plan.this_year
        done.extend((head, planned) for head in plan.this_year)
    return found
