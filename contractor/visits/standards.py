"""What the adopted edition says about a visit's tasks: clauses to cite, frequencies to satisfy."""

from collections.abc import Iterable, Sequence

from contractor.engine import editions
from contractor.engine.editions import Row
from contractor.visits.models import Task

#: Topics of clauses that a record of sensitivity tests cites.
_TOPICS = ("first_year", "alternate_year", "extended", "methods", "marked_range", "out_of_range")
_ROW_TASKS = {Task.INSPECTION: "inspect", Task.FUNCTIONAL: "test"}
_BY_INTERVAL = "sensitivity"


def _rows(*, edition: str, task: str, kinds: Iterable[str]) -> list[Row]:
    """List the rows of one task for the kinds of device at hand."""
    wanted = set(kinds)
    return [
        row
        for row in editions.get(edition).rows
        if row.kind in wanted
        and row.task == _ROW_TASKS.get(Task(task))
        and row.frequency != _BY_INTERVAL
    ]


def list_clauses(
    *, edition: str, tasks: Sequence[str], kinds: Iterable[str]
) -> list[dict[str, str]]:
    """List the clauses that a record cites for each task, and how sure we are of each."""
    found, kinds = [], set(kinds)
    held = editions.get(edition)
    for task in tasks:
        label = str(Task(task).label)
        if task == Task.SENSITIVITY:
            for topic in _TOPICS:
                if topic in held.clauses:
                    clause = held.clauses[topic]
                    found.append(
                        {
                            "task": f"{label}: {clause.says}",
                            "clause": clause.number,
                            "grade": clause.note,
                        }
                    )
            continue
        rows = _rows(edition=edition, task=task, kinds=kinds)
        for number in dict.fromkeys(row.clause for row in rows if row.clause):
            note = next(row.note for row in rows if row.clause == number)
            found.append({"task": label, "clause": number, "grade": note})
    return found


def say_frequencies(*, edition: str, tasks: Sequence[str], kinds: Iterable[str]) -> str:
    """Say which required frequency each task satisfies, such as "functional test: annual"."""
    said, kinds = [], set(kinds)
    for task in tasks:
        if task == Task.SENSITIVITY:
            words = "by its interval" if editions.get(edition).sensitivity else ""
        else:
            rows = _rows(edition=edition, task=task, kinds=kinds)
            words = ", ".join(dict.fromkeys(row.how_often for row in rows))
        said.append(f"{Task(task).label}: {words or 'as agreed'}")
    return "; ".join(said)
