"""Fold what several people stated about a device into one state, whatever order it came in.

A statement is never edited; a later one supersedes those that its author had seen. Two that do
not know of each other are both shown: nothing is blended and nothing is chosen in silence.
"""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

type Outcome = Literal["pass", "fail", "not_tested", "two_results"]

#: Two readings of one detector nearer than this are the same reading: the finest step that is
#: usually printed. Common practice, no source. [%/ft]
STEP = 0.01
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Statement:
    """One statement by one person about one device.

    `supersedes` holds the ids of the statements that its author had seen and replaces. `value`
    tells two equal results with different readings apart [%/ft]; None where there is none. A
    statement without a result takes back what it supersedes and says nothing itself.
    """

    id: Hashable
    device: Hashable
    task: str
    result: str  # "pass", "fail", "not_tested", or nothing
    stage: str = ""  # "as_found", "as_left", or nothing
    reason: str = ""
    author: str = ""
    value: float | None = None
    supersedes: frozenset[Hashable] = frozenset()


@dataclass(frozen=True, slots=True)
class TaskState:
    """What is known of one task of one device.

    `heads` are the statements that nobody has superseded, in the order of their ids; `shown` are
    those of them that make the outcome. The as-found result decides; `as_left` stands beside it.
    """

    outcome: Outcome
    heads: tuple[Statement, ...] = ()
    shown: tuple[Statement, ...] = ()
    as_left: tuple[Statement, ...] = ()
    reason: str = ""

    @property
    def is_touched(self) -> bool:
        """Whether anything that was stated still stands."""
        return bool(self.heads)

    @property
    def is_confirmed_twice(self) -> bool:
        """Whether two people found the same without knowing of each other."""
        return self.outcome in ("pass", "fail") and len(self.shown) > 1


@dataclass(frozen=True, slots=True)
class DeviceState:
    """What is known of one device: each task asked of it, and all of them together."""

    tasks: Mapping[str, TaskState]
    outcome: Outcome

    @property
    def reason(self) -> str:
        """Why it failed or was not tested, in the words that were given."""
        said = [task.reason for task in self.tasks.values() if task.outcome == self.outcome]
        return "; ".join(dict.fromkeys(reason for reason in said if reason))

    @property
    def is_touched(self) -> bool:
        """Whether anything that was stated about it still stands."""
        return any(task.is_touched for task in self.tasks.values())

    @property
    def missing(self) -> tuple[str, ...]:
        """The tasks of which nothing is stated: neither a result nor why there is none."""
        return tuple(name for name, task in self.tasks.items() if not task.is_touched)


def fold(
    *,
    statements: Iterable[Statement],
    asked: Mapping[Hashable, Iterable[str]],
    step: float = STEP,
) -> dict[Hashable, DeviceState]:
    """Fold statements into one state per device.

    Parameters
    ----------
    statements : in any order, also repeated
    asked : the tasks that are asked of each device; untouched, a task is not tested
    step : readings that lie no further apart are the same reading [%/ft]

    Source: own rules; the outcome is a function of the set of statements.

    >>> a = Statement("a", "d", "functional", "pass")
    >>> b = Statement("b", "d", "functional", "fail")
    >>> fold(statements=[a, b], asked={"d": ["functional"]})["d"].outcome
    'two_results'
    >>> c = Statement("c", "d", "functional", "fail", supersedes=frozenset("ab"))
    >>> fold(statements=[c, b, a], asked={"d": ["functional"]})["d"].outcome
    'fail'
    """
    standing: dict[tuple[Hashable, str], list[Statement]] = {}
    for statement in heads(statements=statements):
        if statement.result:
            standing.setdefault((statement.device, statement.task), []).append(statement)
    folded = {}
    for device, tasks in asked.items():
        states = {task: _task(standing.get((device, task), []), step) for task in tasks}
        folded[device] = DeviceState(tasks=states, outcome=_together(states.values()))
    return folded


def heads(*, statements: Iterable[Statement]) -> list[Statement]:
    """List the statements that nobody has superseded, in the order of their ids.

    One can supersede only what was said of the same device. Two that name each other, which no
    honest author can make, both stand: better shown than lost.
    """
    known = {statement.id: statement for statement in statements}
    replaces = {
        one.id: {
            old
            for old in one.supersedes
            if old != one.id and old in known and known[old].device == one.device
        }
        for one in known.values()
    }
    gone = {
        old for one, olds in replaces.items() for old in olds if not _reaches(old, one, replaces)
    }
    found = [statement for statement in known.values() if statement.id not in gone]
    return sorted(found, key=lambda statement: str(statement.id))


def _reaches(start: Hashable, goal: Hashable, replaces: Mapping[Hashable, set[Hashable]]) -> bool:
    """Tell whether one statement supersedes another, directly or through others."""
    todo, seen = [start], {start}
    while todo:
        for old in replaces[todo.pop()]:
            if old == goal:
                return True
            if old not in seen:
                seen.add(old)
                todo.append(old)
    return False


def _task(standing: list[Statement], step: float) -> TaskState:
    heads = tuple(standing)
    as_left = tuple(statement for statement in heads if statement.stage == "as_left")
    found = [statement for statement in heads if statement.stage != "as_left"]
    # Work beats absence: a result stands before "not tested", and both are kept.
    tested = tuple(statement for statement in found if statement.result != "not_tested")
    absent = tuple(statement for statement in found if statement.result == "not_tested")
    if not tested:
        return TaskState("not_tested", heads, absent, as_left, _reasons(absent))
    if not (_agree(tested, step) and _agree(as_left, step)):
        shown = tested if not _agree(tested, step) else (*tested, *as_left)
        return TaskState("two_results", heads, shown, as_left, _reasons(tested))
    outcome: Outcome = "pass" if tested[0].result == "pass" else "fail"
    return TaskState(outcome, heads, tested, as_left, _reasons(tested))


def _agree(said: tuple[Statement, ...], step: float) -> bool:
    """Tell whether all say the same, within the step of a reading."""
    if len({statement.result for statement in said}) > 1:
        return False
    values = [statement.value for statement in said if statement.value is not None]
    if values and len(values) < len(said):
        return False
    return not values or max(values) - min(values) <= step + _ROUNDING


def _reasons(said: tuple[Statement, ...]) -> str:
    return "; ".join(dict.fromkeys(statement.reason for statement in said if statement.reason))


def _together(states: Iterable[TaskState]) -> Outcome:
    """Take the gravest: a device passes only where all that was asked of it passed."""
    outcomes = {state.outcome for state in states}
    gravest: tuple[Outcome, ...] = ("two_results", "fail", "not_tested")
    return next((one for one in gravest if one in outcomes), "pass" if outcomes else "not_tested")
