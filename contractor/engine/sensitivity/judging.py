"""Judge one sensitivity reading, or a whole print-out of them.

Two kinds of evidence may be at hand: the obscuration at which the detector alarms, set against
the range marked on it; and how far soiling has used up what its control unit may correct. Each
is judged by itself, the worst decides, and every reason is kept.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal, NamedTuple

import numpy as np

from contractor.engine.editions.marks import PLAUSIBLE_HIGH, UNMARKED_HIGH

type State = Literal["in_range", "nearing_limit", "out_of_range", "not_judged"]
type Side = Literal["too_sensitive", "not_sensitive_enough"]

RULES = {
    "marked_range": "It alarms within the range marked on it; both ends belong to the range.",
    "upper_bound_only": f"Nothing is marked, so it must alarm at {UNMARKED_HIGH:g} %/ft at most; "
    "how sensitive is too sensitive is not known.",
    "compensation_limit": "Its drift stays below the stated compensation limit.",
    "share_of_setting": "Its drift stays below the share of its setting that may be corrected.",
    "allowance_used": "Part of what compensation may correct is left.",
    "control_unit": "The control unit signals when a detector leaves its listed range.",
    "entry": "What was typed cannot be.",
    "no_evidence": "There is nothing to judge by.",
}

# Far below what any instrument resolves, far above what converting units leaves behind: a typed
# 3.5 stays in a range that ends at 3.5, and 0.9 is 75 % of 1.2.
TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one reading says about one detector, and why.

    `rule` is a key of RULES; `allowance_used` is drift / compensation limit, None where unknown;
    `side` is the end of its range that a measured detector has left.
    """

    state: State
    reason: str
    rule: str
    allowance_used: float | None = None
    side: Side | None = None

    @property
    def rule_text(self) -> str:
        return RULES[self.rule]

    @property
    def clause_topic(self) -> str:
        """The topic under which an edition holds the clause that this verdict rests on."""
        if self.state == "out_of_range":
            return "out_of_range"
        return {"control_unit": "methods", "upper_bound_only": "unmarked"}.get(
            self.rule, "marked_range"
        )


def judge(
    *,
    measured: Any = None,
    setting: Any = None,
    drift: Any = None,
    allowance_used: Any = None,
    control_unit_says: Any = None,
    marked_low: Any = None,
    marked_high: Any = None,
    compensation_limit: Any = None,
    limit_share_of_setting: Any = 0.5,
    nearing_share: Any = 0.75,
) -> Verdict:
    """Judge one reading of one detector against its marks and against what may be corrected.

    Every argument takes any kind of number, or text that holds one. None, NaN and blank text say
    that it is not known. What cannot be is never an exception: the verdict is then `not_judged`,
    unless other evidence already shows the detector nearing its limit or out of range.

    Parameters
    ----------
    measured : number
        Obscuration at which the detector alarms. [%/ft]
    setting : number
        Obscuration at which its control unit is set to give the alarm. [%/ft]
    drift : number
        How far soiling has moved the detector, and compensation has followed. [%/ft]
    allowance_used : number
        Drift as a share of the compensation limit, where a print-out gives only that. [-]
    control_unit_says : bool
        True: the control unit reports the detector in range. False: out of it.
    marked_low, marked_high : number
        The range marked on the detector; both ends are in range. Where no high end is marked,
        the bound for unmarked detectors holds. [%/ft]
    compensation_limit : number
        Drift at which nothing is left to correct with. Outranks the share of the setting. [%/ft]
    limit_share_of_setting : number, default 0.5
        The compensation limit as a share of the setting. [-]
    nearing_share : number, default 0.75
        The share of the compensation limit from which a detector is nearing it. [-]

    Source: NFPA 72, sensitivity clauses of the testing chapter (marked range, bound for unmarked
    detectors, both ends matter). The two default shares are common practice, no source.

    >>> judge(measured=3.8, marked_low=1.0, marked_high=3.5).reason
    'Alarms at 3.8 %/ft; marked 1.0 to 3.5 %/ft: not sensitive enough.'
    """
    typed = {
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
    read, stuck = _read(typed)
    findings = [
        _judge_measured(read, stuck),
        _judge_drift(read, stuck),
        _judge_allowance(read),
        _judge_control_unit(control_unit_says),
        *(_Finding("not_judged", said, "entry") for said in stuck.values()),
    ]
    return _combine([finding for finding in findings if finding is not None])


class _Bound(NamedTuple):
    """What a typed number may be: from `least` (itself only if zero is meant) to `most`."""

    name: str
    most: float
    unit: str = " %/ft"
    zero: bool = False


BOUNDS = {
    "measured": _Bound("A reading", 100, zero=True),
    "setting": _Bound("A setting", PLAUSIBLE_HIGH),
    "drift": _Bound("A drift", 100, zero=True),
    # 80 was meant as percent: ask, do not call the detector hopeless.
    "allowance_used": _Bound("An allowance used", 10, " of 1", zero=True),
    "marked_low": _Bound("A marked low end", 100, zero=True),
    "marked_high": _Bound("A marked high end", 100),
    "compensation_limit": _Bound("A compensation limit", PLAUSIBLE_HIGH),
    "limit_share_of_setting": _Bound("A share of the setting", 1, " of 1"),
    "nearing_share": _Bound("A warning share", 1, " of 1"),
}


class _Finding(NamedTuple):
    """What one piece of evidence says. Without a state it is a note that decides nothing."""

    state: State | None
    said: str
    rule: str
    allowance_used: float | None = None
    side: Side | None = None


def _read(typed: Mapping[str, Any]) -> tuple[dict[str, float | None], dict[str, str]]:
    """Read what was typed; collect, by argument, what cannot be and so cannot be used."""
    read: dict[str, float | None] = {}
    stuck: dict[str, str] = {}
    for key, value in typed.items():
        read[key] = None
        if value is None:
            continue
        bound = BOUNDS[key]
        number = value if type(value) is float else _number(value)
        if number is None:
            stuck[key] = f"{bound.name} must be a number, and {value!r:.40} is none."
        elif not math.isnan(number):
            below = number < 0 if bound.zero else number < TOLERANCE
            number += 0.0  # no reason says -0.0
            if below or number > bound.most:
                said = f"{bound.name} of {_say(number)}{bound.unit} cannot be."
                stuck[key] = f"{said} Check the entry."
            else:
                read[key] = number
    low, high, setting = read["marked_low"], _high(read), read["setting"]
    if low is not None and "marked_high" not in stuck and low > high + TOLERANCE:
        stuck["marked_low"] = (
            f"A range from {_say(low)} up to {_say(high)} %/ft cannot be. Check the marked range."
        )
    elif setting is not None and not {"marked_low", "marked_high"} & stuck.keys():
        marked = read["marked_high"] is not None or low is not None
        if marked and not (low or 0) - TOLERANCE <= setting <= high + TOLERANCE:
            read["setting"] = None
            stuck["setting"] = f"Set to {_say(setting)} %/ft; {_marks(read)}. Check the setting."
    return read, stuck


_NO_NUMBERS = (bool, np.bool_, complex, np.ndarray)


def _number(value: Any) -> float | None:
    """Give NaN for what is not known, None for what is no number."""
    if type(value) is float:
        return value
    if value is None or (isinstance(value, str) and not value.strip()):
        return math.nan
    if isinstance(value, _NO_NUMBERS):
        return None
    try:
        return float(value)
    except (TypeError, ValueError, OverflowError):
        return None


def _high(read: Mapping[str, float | None]) -> float:
    high = read["marked_high"]
    return UNMARKED_HIGH if high is None else high


def _judge_measured(read: Mapping[str, float | None], stuck: Mapping[str, str]) -> _Finding | None:
    measured, low = read["measured"], read["marked_low"]
    if measured is None or {"marked_low", "marked_high"} & stuck.keys():
        return None
    high = _high(read)
    unmarked = low is None and read["marked_high"] is None
    rule = "upper_bound_only" if unmarked else "marked_range"
    said = f"Alarms at {_say(measured, low, high)} %/ft; {_marks(read)}: "
    if measured > high + TOLERANCE:
        said += "not sensitive enough."
        return _Finding("out_of_range", said, rule, side="not_sensitive_enough")
    if low is not None and measured < low - TOLERANCE:
        return _Finding("out_of_range", said + "too sensitive.", rule, side="too_sensitive")
    if low is None and measured < TOLERANCE:
        said += "it would alarm in clean air, so this is no reading."
        return _Finding("not_judged", said, rule)
    if low is None:
        said += "in range, as far as the upper bound tells; no lower one is known."
        return _Finding("in_range", said, rule)
    return _Finding("in_range", said + "in range.", rule)


def _marks(read: Mapping[str, float | None]) -> str:
    low, high = read["marked_low"], read["marked_high"]
    if low is not None and high is not None:
        return f"marked {_say(low)} to {_say(high)} %/ft"
    if low is not None:
        return f"marked {_say(low)} %/ft and above, and unmarked at most {_say(UNMARKED_HIGH)} %/ft"
    if high is not None:
        return f"marked {_say(high)} %/ft at most"
    return f"nothing is marked, so at most {_say(UNMARKED_HIGH)} %/ft"


def _judge_drift(read: Mapping[str, float | None], stuck: Mapping[str, str]) -> _Finding | None:
    drift, limit = read["drift"], read["compensation_limit"]
    setting, share = read["setting"], read["limit_share_of_setting"]
    if drift is None or "compensation_limit" in stuck:
        return None
    rule, origin = "compensation_limit", ""
    if limit is None:
        if {"setting", "limit_share_of_setting"} & stuck.keys():
            return None
        if setting is None or share is None:
            said = f"Drift {_say(drift)} %/ft; how much may be corrected is not known."
            return _Finding(None, said, "no_evidence")
        limit, rule = share * setting, "share_of_setting"
        origin = f", {_percent(share)} of its setting {_say(setting)} %/ft"
    said = f"Drift {_say(drift, limit)} %/ft; at most {_say(limit)} %/ft may be corrected{origin}: "
    return _spent(said, rule, used=drift / limit, nearing_share=read["nearing_share"])


def _judge_allowance(read: Mapping[str, float | None]) -> _Finding | None:
    used = read["allowance_used"]
    if used is None:
        return None
    said = "Compensation as printed: "
    return _spent(said, "allowance_used", used=used, nearing_share=read["nearing_share"])


def _spent(said: str, rule: str, *, used: float, nearing_share: float | None) -> _Finding:
    nearing_from = 1.0 if nearing_share is None else nearing_share
    said += f"{_percent(used, nearing_from, 1)} used, "
    if used >= 1 - TOLERANCE:
        return _Finding("out_of_range", said + "nothing is left to correct with.", rule, used)
    if used >= nearing_from - TOLERANCE:
        return _Finding("nearing_limit", said + "nearing its limit.", rule, used)
    return _Finding("in_range", said + "in range.", rule, used)


def _judge_control_unit(says: Any) -> _Finding | None:
    match said_as_number(says):
        case 1:
            return _Finding("in_range", "The control unit reports it in range.", "control_unit")
        case 0:
            said = "The control unit reports it out of range."
            return _Finding("out_of_range", said, "control_unit")
        case -1:
            return None
    said = (
        f"The control unit says in range, out of range, or nothing; {says!r:.40} is none of them."
    )
    return _Finding("not_judged", said, "entry")


def said_as_number(says: Any) -> int:
    """Code what the control unit says: 1 in range, 0 out of it, -1 nothing, -2 no answer."""
    if says is None:
        return -1
    if isinstance(says, bool | np.bool_):
        return int(says)
    number = _number(says)
    if number is None:
        return -2
    return -1 if math.isnan(number) else -2


_ORDER: dict[State | None, int] = {
    "out_of_range": 0,
    "nearing_limit": 1,
    # A number that cannot be is asked about before the rest is called in range.
    "not_judged": 2,
    "in_range": 3,
    None: 4,
}


def _combine(findings: list[_Finding]) -> Verdict:
    if len(findings) > 1:
        findings.sort(key=lambda finding: _ORDER[finding.state])
    shares = [f.allowance_used for f in findings if f.allowance_used is not None]
    reason = " ".join(finding.said for finding in findings)
    worst = findings[0] if findings else None
    if worst is None or worst.state is None:
        return Verdict("not_judged", reason or "No reading to judge.", "no_evidence")
    allowance_used = max(shares, default=None)
    return Verdict(worst.state, reason, worst.rule, allowance_used, worst.side)


@lru_cache(maxsize=8192)  # settings, shares and limits come again with every detector
def _say(number: float, *limits: float | None) -> str:
    """Write a number as people do, but never round it onto a limit that it does not meet."""
    apart = [limit for limit in limits if limit is not None and abs(number - limit) > TOLERANCE]
    decimals = 2
    while decimals < 9 and round(number, decimals) in [round(x, decimals) for x in apart]:
        decimals += 1
    if abs(number) >= 1e6:
        return f"{number:g}"
    whole, _, fraction = f"{number:.{decimals}f}".partition(".")
    return f"{whole}.{fraction.rstrip('0') or '0'}"


def _percent(share: float, *limits: float) -> str:
    return f"{_say(100 * share, *[100 * limit for limit in limits]).removesuffix('.0')} %"
