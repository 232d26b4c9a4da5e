"""Judge sound levels, and measurements that a maker gives a range for, such as duct pressure."""

from dataclasses import dataclass
from typing import Literal

type State = Literal["pass", "fail", "not_judged"]

MODES = ("public", "sleeping", "private")
#: Above this the alarm is too loud at the least distance from which it is heard. [dBA]
TOO_LOUD_DBA = 110.0
#: How far the signal stands above the averaged ambient, above the loudest sound that lasts 60 s,
#: and what it reaches at least. [dB, dB, dBA]
_OVER: dict[str, tuple[float, float, float]] = {
    "public": (15.0, 5.0, 0.0),
    "sleeping": (15.0, 5.0, 75.0),
    "private": (10.0, 5.0, 45.0),
}
_TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a measurement says, and why; note tells how sure the rule is."""

    state: State
    reason: str
    note: str = ""


def judge_sound(
    *,
    mode: str = "public",
    level_dba: float,
    ambient_dba: float | None = None,
    loudest_dba: float | None = None,
) -> Verdict:
    """Judge one sound level of an alarm signal.

    Parameters
    ----------
    mode : one of MODES, default "public"
        Who is to hear it: everybody, people asleep, or those trained to act.
    level_dba : float
        Level of the alarm signal where people hear it. [dBA]
    ambient_dba : float, optional
        Average ambient level. [dBA]
    loudest_dba : float, optional
        Loudest sound that lasts 60 s or more. [dBA]

    Returns
    -------
    Verdict
        not_judged where nothing says what it must reach.

    Raises
    ------
    ValueError
        If the mode is unknown or a level lies outside 0 to 194 dBA.

    Source: NFPA 72, chapter on notification appliances, restated: 15 dBA above ambient (a trade
    trainer); 75 dBA where people sleep and 110 dBA at most (a building-code forum); the rest from
    memory.

    >>> judge_sound(mode="sleeping", ambient_dba=45, loudest_dba=66, level_dba=74).reason
    '74 dBA; 75 dBA at least here: too quiet.'
    >>> judge_sound(ambient_dba=54, loudest_dba=66, level_dba=71).state
    'pass'
    """
    if mode not in _OVER:
        raise ValueError(f"Mode is one of {', '.join(MODES)}.")
    for level in (level_dba, ambient_dba, loudest_dba):
        if level is not None and not 0 <= level <= 194:
            raise ValueError(f"{level:g} dBA cannot be; 0 to 194.")
    note = "15 dB and 110 dBA restated by others; the rest from memory"
    over_ambient, over_loudest, floor = _OVER[mode]
    if level_dba > TOO_LOUD_DBA:
        return Verdict("fail", f"{level_dba:g} dBA; above {TOO_LOUD_DBA:g} dBA is too loud.", note)
    wanted = [floor]
    if ambient_dba is not None:
        wanted.append(ambient_dba + over_ambient)
    if loudest_dba is not None:
        wanted.append(loudest_dba + over_loudest)
    least = max(wanted)
    if not least:
        return Verdict("not_judged", f"{level_dba:g} dBA; no ambient level to judge it by.", note)
    is_enough = level_dba >= least - _TOLERANCE
    said = "loud enough" if is_enough else "too quiet"
    return Verdict(
        "pass" if is_enough else "fail",
        f"{level_dba:g} dBA; {least:g} dBA at least here: {said}.",
        note,
    )


def judge_range(
    *, value: float, low: float | None = None, high: float | None = None, unit: str = ""
) -> Verdict:
    """Judge a measurement by the range that the maker gives.

    Parameters
    ----------
    value, low, high : float
        What was measured, and the least and most that the maker allows, all in one unit. [unit]
    unit : str
        The unit, for the reason.

    Raises
    ------
    ValueError
        If the least lies above the most.

    Source: pressure difference of a duct detector's sampling tube within the maker's range, NFPA
    72-2010, table 14.4.2.2, item 14(g)(6), restated by a trade page.

    >>> judge_range(value=0.02, low=0.01, high=1.11, unit="in. w.c.").reason
    '0.02 in. w.c.; the maker allows 0.01 to 1.11: within.'
    >>> judge_range(value=0.02, unit="in. w.c.").state
    'not_judged'
    """
    if low is not None and high is not None and low > high:
        raise ValueError(f"The least, {low:g}, lies above the most, {high:g}.")
    found = f"{value:g} {unit}".strip()
    if low is None and high is None:
        return Verdict("not_judged", f"{found}; no range to judge it by.")
    is_within = (low is None or value >= low - _TOLERANCE) and (
        high is None or value <= high + _TOLERANCE
    )
    if low is not None and high is not None:
        allowed = f"{low:g} to {high:g}"
    else:
        allowed = f"{low:g} at least" if low is not None else f"{high:g} at most"
    said = "within" if is_within else "outside"
    return Verdict("pass" if is_within else "fail", f"{found}; the maker allows {allowed}: {said}.")
