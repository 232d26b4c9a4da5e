"""How the firm is doing: what is on time, and how old open findings are."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext

from contractor.due import words
from contractor.schedule.lines import Line
from contractor.web import charts

#: Ages of open findings: the most days of each band, its words, and short ones.
AGES = (
    (7, "a week", "7 d"),
    (30, "a month", "30 d"),
    (90, "3 months", "90 d"),
    (365, "a year", "1 y"),
)
SEVERITIES = ("impairment", "critical_deficiency", "deficiency", "noncritical")
#: Several of the engine's words for how a date stands are one on the drawing.
STATES = ("overdue", "no_record", "due", "later")


@dataclass(frozen=True)
class Row:
    """One row of the table behind a drawing."""

    words: str
    counts: tuple[tuple[str, int], ...]

    @property
    def total(self) -> int:
        """How many things."""
        return sum(number for _, number in self.counts)


def on_time(lines: Sequence[Line]) -> list[Row]:
    """Count dates by what is done, and by how they stand; what asks most stands first."""
    found: dict[str, Counter[str]] = {}
    for line in lines:
        found.setdefault(line.task_words, Counter())[words.DRAWN[line.state]] += 1
    rows = [Row(name, tuple((key, kinds[key]) for key in STATES)) for name, kinds in found.items()]
    return sorted(rows, key=lambda row: (-dict(row.counts)["overdue"], -row.total, row.words))


def say_on_time(rows: Iterable[Row]) -> tuple[int, int, int]:
    """Count all dates that are known, those not overdue among them, and those not known."""
    total: Counter[str] = Counter()
    for row in rows:
        total.update(dict(row.counts))
    known = sum(total.values()) - total["no_record"]
    return known, known - total["overdue"], total["no_record"]


def by_age(findings: Iterable[tuple[str, date]], *, today: date) -> list[Row]:
    """Count open findings by age, from (severity, day found)."""
    bands = [Counter[str]() for _ in range(len(AGES) + 1)]
    for severity, found_on in findings:
        age = today - found_on
        at = next((n for n, (most, _, _) in enumerate(AGES) if age <= timedelta(days=most)), -1)
        bands[at][severity] += 1
    names = [gettext("up to %(age)s") % {"age": gettext(said)} for _, said, _ in AGES]
    names.append(gettext("older than a year"))
    return [
        Row(name, tuple((key, band[key]) for key in SEVERITIES))
        for name, band in zip(names, bands, strict=True)
    ]


def draw_on_time(rows: Sequence[Row], *, most: int = 10) -> charts.DueMonths:
    """Draw a column for each kind of work."""
    columns = tuple(
        charts.DueColumn(label=said.split(" ")[0], words=said, counts=row.counts, short=said[:3])
        for row, said in ((row, gettext(row.words)) for row in rows[:most])
    )
    return charts.DueMonths(columns=columns, about="How dates stand, by what is done")


def draw_ages(rows: Sequence[Row]) -> charts.DueMonths:
    """Draw a column for each age."""
    shorts = [gettext(short) for _, _, short in AGES] + [gettext("> 1 y")]
    columns = tuple(
        charts.DueColumn(label=row.words, words=row.words, counts=row.counts, short=short)
        for row, short in zip(rows, shorts, strict=True)
    )
    return charts.DueMonths(columns=columns, about="Open findings by age", nothing="None is open")
