"""Find the fewest visits that meet all windows."""

from collections.abc import Iterable
from datetime import date
from statistics import median_low
from typing import NamedTuple, Protocol, runtime_checkable


@runtime_checkable
class Spanned(Protocol):
    """Anything with a first, a best and a last day, such as `intervals.Window`."""

    @property
    def earliest(self) -> date: ...
    @property
    def target(self) -> date: ...
    @property
    def latest(self) -> date: ...


class Round[Day: (date, int)](NamedTuple):
    """One visit: its day, and the places of the windows that it serves."""

    day: Day
    served: tuple[int, ...]


type Days[Day: (date, int)] = tuple[Day, Day] | tuple[Day, Day, Day]


def fewest[Day: (date, int)](windows: Iterable[Spanned | Days[Day]]) -> list[Round[Day]]:
    """Find the fewest days such that every window holds one of them.

    Parameters
    ----------
    windows : iterable
        Each a window with `earliest`, `target` and `latest`; or (earliest, latest); or
        (earliest, target, latest). Days or day numbers, both ends included.

    Returns
    -------
    list of Round
        In order of days. Each window is served once. With targets, a visit falls on the middle
        one of those it serves, as near as its windows allow; without, on the last day possible.

    Raises
    ------
    ValueError
        If a window ends before it begins.

    Source: point cover of intervals, sort by end and stab the end, which is optimal.

    >>> [visit.day for visit in fewest([(1, 4), (2, 6), (5, 8), (7, 9)])]
    [4, 8]
    """
    spans = [_span(window) for window in windows]
    waiting = sorted(range(len(spans)), key=lambda place: spans[place][2])
    rounds: list[Round[Day]] = []
    served: list[int] = []
    for place in waiting:
        earliest, _, latest = spans[place]
        if latest < earliest:
            raise ValueError(f"A window from {earliest} to {latest} holds no day. Check its ends.")
        # All that wait together share the end of the first, so they share one day.
        if served and earliest > spans[served[0]][2]:
            rounds.append(_round(served, spans))
            served = []
        served.append(place)
    if served:
        rounds.append(_round(served, spans))
    return rounds


def _span[Day: (date, int)](window: Spanned | Days[Day]) -> tuple[Day, Day | None, Day]:
    if isinstance(window, Spanned):
        return window.earliest, window.target, window.latest  # type: ignore[return-value]
    if len(window) == 3:
        return window
    return window[0], None, window[1]


def _round[Day: (date, int)](
    served: list[int], spans: list[tuple[Day, Day | None, Day]]
) -> Round[Day]:
    first = max(spans[place][0] for place in served)
    last = min(spans[place][2] for place in served)
    targets = [target for place in served if (target := spans[place][1]) is not None]
    day = min(max(median_low(targets), first), last) if targets else last
    return Round(day, tuple(sorted(served)))
