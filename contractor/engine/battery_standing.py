"""Say where a battery set stands: what its tests, its size and its age ask for together."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal, NamedTuple

from contractor.engine import battery, editions, intervals

type Key = Literal[
    "replace", "replace_at_next_test", "too_small", "old", "look_closer", "not_known", "keep"
]

#: The worst first.
ORDER: tuple[Key, ...] = (
    "replace",
    "replace_at_next_test",
    "too_small",
    "old",
    "look_closer",
    "not_known",
    "keep",
)

# From this age on a set is pointed out where its edition gives no age: practice of vendors and
# of some local rules, not code (two trade pages say so).
PRACTICE_YEARS = 5


class Measured(NamedTuple):
    """One thing that was measured on one day, and what was said of it.

    What does not count, such as a capacity test at a rate too short, moves no date.
    """

    on: date
    part: str
    state: str
    reason: str = ""
    counts: bool = True


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a set stands: the worst decides, and every reason is kept, the gravest first."""

    key: Key
    reasons: tuple[str, ...]
    remarks: tuple[str, ...] = ()


def stand(
    *,
    tests: Iterable[Measured],
    edition: str,
    as_of: date,
    sizing: battery.Sizing | None = None,
    manufactured_on: date | None = None,
    installed_on: date | None = None,
) -> Standing:
    """Join what tests, size and age say of one battery set.

    Of each part the latest test counts. What was to be replaced at the next test and has been
    tested on a later day is to be replaced now.

    Parameters
    ----------
    tests : Measured, in any order
        What was measured since the set was put in; later ones than as_of are left out.
    edition : str
        Key of the adopted edition.
    as_of : date
        The day on which the question is asked.
    sizing : Sizing, optional
        What the system asks and what the set holds.
    manufactured_on, installed_on : date, optional

    Raises
    ------
    UnknownEdition
        If the edition is not held.

    Source: verdicts as in `judge_each`, age as in `replace_by`; their order is our reading.

    >>> stand(tests=[], edition="nfpa72-2019", as_of=date(2026, 1, 1)).key
    'not_known'
    """
    found: dict[Key, list[str]] = {key: [] for key in ORDER}
    known = sorted(
        (test for test in tests if test.on <= as_of), key=lambda test: (test.on, test.part)
    )
    latest = {test.part: test for test in known}
    remarks = []
    for test in sorted(latest.values(), key=lambda test: test.on, reverse=True):
        said = f"{_day(test.on)}: {test.reason}"
        later = next((one.on for one in known if one.on > test.on), None)
        if test.state == "replace_at_next_test" and later is not None:
            found["replace"].append(
                f"{said} It was to be replaced at the next test, and was tested on {_day(later)}."
            )
        elif test.state in _ASKING:
            found[_ASKING[test.state]].append(said)
        elif test.state == "not_judged":
            remarks.append(said)
    if not any(test.state == "keep" or test.state in _ASKING for test in latest.values()):
        found["not_known"].append(
            "What was tested could not be judged." if known else "No test is on record."
        )
    _add_size(found, sizing)
    remarks += _add_age(found, edition, as_of, manufactured_on, installed_on)
    key: Key = next((key for key in ORDER if found[key]), "keep")
    return Standing(key, tuple(said for place in ORDER for said in found[place]), tuple(remarks))


#: What a test alone can ask for.
_ASKING: Mapping[str, Key] = {
    "replace": "replace",
    "replace_at_next_test": "replace_at_next_test",
    "look_closer": "look_closer",
}


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


def _add_size(found: dict[Key, list[str]], sizing: battery.Sizing | None) -> None:
    if sizing is None:
        found["not_known"].append("What it must carry is not known: enter its loads.")
    elif sizing.installed_ah is None:
        found["not_known"].append("Its rated capacity is not known.")
    elif not sizing.is_enough:
        found["too_small"].append(
            f"It holds {sizing.installed_ah:.4g} Ah; the system asks {sizing.required_ah:.2f} Ah."
        )


def _add_age(
    found: dict[Key, list[str]],
    edition: str,
    as_of: date,
    manufactured_on: date | None,
    installed_on: date | None,
) -> list[str]:
    due = battery.replace_by(
        edition=edition, manufactured_on=manufactured_on, installed_on=installed_on
    )
    if due is not None and due.due_on < as_of:
        found["old"].append(f"Due to be replaced by {_day(due.due_on)}. {due.reason}")
    if manufactured_on is None:
        found["not_known"].append("The month of manufacture is not known: read the date code.")
        return []
    months = battery.age_months(manufactured_on=manufactured_on, as_of=max(as_of, manufactured_on))
    if due is None and months >= 12 * PRACTICE_YEARS:
        return [
            f"It is {months // 12} years old. {PRACTICE_YEARS} years is the practice of vendors "
            "and of some local rules; this edition gives no age.",
        ]
    return []


@dataclass(frozen=True, slots=True)
class NextTest:
    """When one test of a battery set is due next; without a day nobody knows when it was put in."""

    part: str
    frequency: str
    says: str  # the same in words
    last_on: date | None
    window: intervals.Window | None
    method: str
    clause: str
    note: str


def next_tests(
    *,
    edition: str,
    component: str,
    tests: Iterable[Measured],
    installed_on: date | None = None,
) -> list[NextTest]:
    """Say when each test that an edition asks of a battery is due next, the earliest first.

    Parameters
    ----------
    edition : str
        Key of the adopted edition.
    component : str
        What it is in the tables of the code, such as "battery_vrla".
    tests : Measured, in any order
    installed_on : date, optional
        Counts where a part was never tested.

    Raises
    ------
    UnknownEdition
        If the edition is not held.

    Source: the edition's table.

    >>> rows = next_tests(edition="nfpa72-2019", component="battery_vrla",
    ...                   tests=[Measured(date(2026, 1, 15), "load", "keep")])
    >>> [row.window.latest for row in rows if row.part == "load"]
    [datetime.date(2026, 9, 15)]
    """
    held = editions.get(edition)
    spans = intervals.WINDOW_RULES[held.window_rule]
    latest: dict[str, date] = {}
    for test in tests:
        if not test.counts:
            continue
        latest[test.part] = max(test.on, latest.get(test.part, test.on))
    found = []
    for row in held.rows:
        if row.component != component or row.task != "test":
            continue
        if row.frequency not in spans:
            continue
        last_on = latest.get(row.part)
        since = last_on or installed_on
        window = (
            None
            if since is None
            else intervals.window(last_done=since, frequency=row.frequency, rule=held.window_rule)
        )
        found.append(
            NextTest(
                row.part,
                row.frequency,
                spans[row.frequency].says,
                last_on,
                window,
                row.method,
                row.clause,
                row.note,
            )
        )
    return sorted(found, key=lambda one: (one.window.latest if one.window else date.min, one.part))
