"""Judge a whole print-out of readings at once: each as `judge` would, by arrays."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from contractor.engine.editions.marks import UNMARKED_HIGH
from contractor.engine.sensitivity.judging import (
    BOUNDS,
    TOLERANCE,
    State,
    Verdict,
    judge,
    said_as_number,
)

type Floats = npt.NDArray[np.float64]
type Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Verdicts:
    """The verdicts of many readings as arrays; `verdicts[i]` is one of them, with its reason.

    `allowance_used` is NaN and `side` is empty where a single verdict has None.
    """

    state: npt.NDArray[np.str_]
    rule: npt.NDArray[np.str_]
    allowance_used: Floats
    side: npt.NDArray[np.str_]
    _one: Callable[[int], Verdict]

    def __len__(self) -> int:
        return len(self.state)

    def __getitem__(self, index: int) -> Verdict:
        return self._one(range(len(self))[index])

    def __iter__(self) -> Iterator[Verdict]:
        return map(self._one, range(len(self)))


def judge_many(
    *,
    measured: npt.ArrayLike | None = None,
    setting: npt.ArrayLike | None = None,
    drift: npt.ArrayLike | None = None,
    allowance_used: npt.ArrayLike | None = None,
    control_unit_says: Any = None,
    marked_low: npt.ArrayLike | None = None,
    marked_high: npt.ArrayLike | None = None,
    compensation_limit: npt.ArrayLike | None = None,
    limit_share_of_setting: npt.ArrayLike | None = 0.5,
    nearing_share: npt.ArrayLike | None = 0.75,
) -> Verdicts:
    """Judge many readings at once, each as `judge` would.

    Parameters
    ----------
    measured, setting, drift, ... : shape (n,), or one number for all
        As in `judge`; NaN or None where not known. Numbers only.
    control_unit_says : shape (n,), or one value for all
        True, False, or None where it says nothing.

    Source: as `judge`.

    >>> judge_many(measured=[0.9, 1.0, 3.5], marked_low=1.0, marked_high=3.5).state.tolist()
    ['out_of_range', 'in_range', 'in_range']
    """
    typed: dict[str, Any] = {
        "measured": measured,
        "setting": setting,
        "drift": drift,
        "allowance_used": allowance_used,
        "marked_low": marked_low,
        "marked_high": marked_high,
        "compensation_limit": compensation_limit,
        "limit_share_of_setting": limit_share_of_setting,
        "nearing_share": nearing_share,
    }
    says = np.asarray(control_unit_says, dtype=object)
    columns = np.broadcast_arrays(
        says, *(np.asarray(value, dtype=np.float64) for value in typed.values())
    )
    says, *numbers = (np.atleast_1d(column) for column in columns)
    read = dict(zip(typed, numbers, strict=True))

    def one(row: int) -> Verdict:
        return judge(control_unit_says=says[row], **{key: read[key][row] for key in read})

    return _decide_many(read, np.array([said_as_number(x) for x in says], dtype=np.int8), one)


_STATES: tuple[State, ...] = ("out_of_range", "nearing_limit", "not_judged", "in_range")
_OUT, _NEARING, _NOT_JUDGED, _IN_RANGE, _SILENT = range(5)


def _decide_many(
    read: dict[str, Floats], says: npt.NDArray[np.int8], one: Callable[[int], Verdict]
) -> Verdicts:
    usable, stuck = _read_many(read)
    low, marked_high = usable["marked_low"], usable["marked_high"]
    no_low, no_high = np.isnan(low), np.isnan(marked_high)
    high = np.where(no_high, UNMARKED_HIGH, marked_high)
    marks_stuck = stuck["marked_low"] | stuck["marked_high"]
    limit = usable["compensation_limit"]
    stated = ~np.isnan(limit)
    nearing_from = np.where(np.isnan(usable["nearing_share"]), 1.0, usable["nearing_share"])
    limit = np.where(stated, limit, usable["limit_share_of_setting"] * usable["setting"])
    blind = stuck["compensation_limit"] | (
        ~stated & (stuck["setting"] | stuck["limit_share_of_setting"])
    )
    of_limit = np.where(blind, np.nan, usable["drift"] / limit)
    printed = usable["allowance_used"]

    measured = np.where(marks_stuck, np.nan, usable["measured"])
    too_high = measured > high + TOLERANCE
    too_low = measured < low - TOLERANCE
    in_clean_air = no_low & (measured < TOLERANCE)
    by_range = np.select(
        [np.isnan(measured), too_high | too_low, in_clean_air],
        [_SILENT, _OUT, _NOT_JUDGED],
        _IN_RANGE,
    )
    by_entry = np.where(np.any(list(stuck.values()), axis=0) | (says == -2), _NOT_JUDGED, _SILENT)
    by_unit = np.select([says == 1, says == 0], [_IN_RANGE, _OUT], _SILENT)
    evidence = np.stack(
        [by_range, _spent_many(of_limit, nearing_from), _spent_many(printed, nearing_from),
         by_unit, by_entry]
    )  # fmt: skip
    deciding = evidence.argmin(axis=0)
    worst = evidence.min(axis=0)
    rules = np.stack(
        [
            np.where(no_low & no_high, "upper_bound_only", "marked_range"),
            np.where(stated, "compensation_limit", "share_of_setting"),
            np.full(len(says), "allowance_used"),
            np.full(len(says), "control_unit"),
            np.full(len(says), "entry"),
        ]
    )
    rule = np.take_along_axis(rules, deciding[None], axis=0)[0]
    measured_decides = (worst == _OUT) & (deciding == 0)
    return Verdicts(
        state=np.array([*_STATES, "not_judged"])[worst],
        rule=np.where(worst == _SILENT, "no_evidence", rule),
        allowance_used=np.fmax(of_limit, printed),
        side=np.select(
            [measured_decides & too_high, measured_decides & too_low],
            ["not_sensitive_enough", "too_sensitive"],
            "",
        ),
        _one=one,
    )


def _read_many(read: dict[str, Floats]) -> tuple[dict[str, Floats], dict[str, Flags]]:
    stuck = {}
    for key, bound in BOUNDS.items():
        number = read[key]
        below = number < 0 if bound.zero else number < TOLERANCE
        stuck[key] = below | (number > bound.most)
    usable = {key: np.where(stuck[key], np.nan, read[key]) for key in read}
    low, setting = usable["marked_low"], usable["setting"]
    high = np.where(np.isnan(usable["marked_high"]), UNMARKED_HIGH, usable["marked_high"])
    reversed_marks = ~stuck["marked_high"] & (low > high + TOLERANCE)
    stuck["marked_low"] = stuck["marked_low"] | reversed_marks
    marked = ~(np.isnan(low) & np.isnan(usable["marked_high"]))
    astray = (setting > high + TOLERANCE) | (setting < np.nan_to_num(low) - TOLERANCE)
    astray &= marked & ~stuck["marked_low"] & ~stuck["marked_high"]
    stuck["setting"] = stuck["setting"] | astray
    usable["setting"] = np.where(astray, np.nan, setting)
    return usable, stuck


def _spent_many(used: Floats, nearing_from: Floats) -> npt.NDArray[np.int_]:
    return np.select(
        [np.isnan(used), used >= 1 - TOLERANCE, used >= nearing_from - TOLERANCE],
        [_SILENT, _OUT, _NEARING],
        _IN_RANGE,
    )
