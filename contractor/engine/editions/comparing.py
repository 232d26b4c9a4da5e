"""Lay the editions side by side: what each asks of one component, and where they differ."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from contractor.engine import editions
from contractor.engine.editions.model import (
    COMPONENTS,
    STANDINGS,
    TASK_WORDS,
    Cited,
    Edition,
    Row,
    Standing,
)
from contractor.engine.editions.sources import SOURCES
from contractor.engine.editions.windows import FREQUENCIES, WINDOW_RULES, Span

CAUTION = (
    "Restated in our own words, never quoted. The locally adopted code and the authority having "
    "jurisdiction decide; check against a licensed copy before relying on a row."
)
#: One letter each for a table in plain text; a grade (A, B, C) stands for "confirmed".
_LETTERS: Mapping[Standing, str] = {
    "common practice": "p",
    "from memory": "m",
    "our reading": "r",
}


@dataclass(frozen=True, slots=True)
class Line:
    """One task of one component, edition by edition in the order of `editions.keys()`."""

    component: str
    task: str
    rows: tuple[Row | None, ...]
    asks: tuple[str, ...]  # how often, in words; empty where the edition says nothing

    @property
    def name(self) -> str:
        """The component, in words."""
        return COMPONENTS[self.component].name

    @property
    def words(self) -> str:
        """The task, in words."""
        return TASK_WORDS[self.task]

    @property
    def cells(self) -> Iterator[tuple[Row | None, str, bool]]:
        """Each edition's row, how often, and whether that differs from the edition before it."""
        before, code = "", ""
        for key, row, asked in zip(editions.keys(), self.rows, self.asks, strict=True):
            edition = editions.get(key)
            yield row, asked, edition.code == code and asked != before
            before, code = asked, edition.code

    @property
    def differs(self) -> bool:
        """Whether an edition asks otherwise than the one before it of the same code."""
        return any(moved for _, _, moved in self.cells)


def say_how_often(edition: Edition, row: Row) -> str:
    """Say how often a row is done; where another rule gives the day, with that rule's numbers.

    Parameters
    ----------
    edition : Edition
        One of the editions.
    row : Row
        One of its rows.

    >>> edition = editions.get("nfpa72-2013")
    >>> say_how_often(edition, edition.row("smoke_alarm", "replace"))
    '10 years from manufacture'
    """
    rule = edition.sensitivity
    if row.frequency == "sensitivity" and rule is not None:
        if rule.first_months == rule.repeat_months:
            return f"every {rule.repeat_months} months"
        said = f"after {rule.first_months}, then every {rule.repeat_months} months"
        return f"{said}; {rule.extended_months} where earned" if rule.extended_months else said
    if row.frequency == "life":
        return _say_life(edition, row)
    if row.component == "heat_restorable" and edition.life and row.key == "functional":
        return f"{row.how_often}, a sample"
    return row.how_often


def _say_life(edition: Edition, row: Row) -> str:
    lives, battery = edition.life, edition.battery
    if row.component == "heat_nonrestorable" and lives:
        return f"{lives.heat_life_years} years after installation, or a sample"
    if row.component == "smoke_alarm" and lives:
        return f"{lives.smoke_alarm_years} years from manufacture"
    if battery and battery.life_years:
        return f"{battery.life_years} years from manufacture"
    if battery and battery.label_years:
        return f"{battery.label_years} years after installation"
    return row.how_often


def compare() -> tuple[Line, ...]:
    """List every task of every component that any edition asks for, edition by edition.

    Source: the editions themselves.

    >>> [line.words for line in compare() if line.component == "manual"]
    ['visual inspection', 'functional test']
    """
    held = [editions.get(key) for key in editions.keys()]  # noqa: SIM118
    by_key = [{(row.component, row.key): row for row in edition.rows} for edition in held]
    tasks = list(TASK_WORDS)
    wanted = {key for rows in by_key for key in rows}
    order = {component: place for place, component in enumerate(COMPONENTS)}
    lines = []
    for key in sorted(wanted, key=lambda key: (order[key[0]], tasks.index(key[1]))):
        rows = tuple(table.get(key) for table in by_key)
        asks = tuple(
            say_how_often(edition, row) if row else ""
            for edition, row in zip(held, rows, strict=True)
        )
        lines.append(Line(*key, rows, asks))
    return tuple(lines)


def cited_by(edition: Edition) -> tuple[Cited, ...]:
    """List everything that an edition holds, each with how sure we are of it.

    Parameters
    ----------
    edition : Edition
        One of the editions.
    """
    rules = [rule for rule in (edition.battery, edition.alarms) if rule is not None]
    lives = edition.life.clauses.values() if edition.life else ()
    return (*edition.rows, *edition.clauses.values(), *lives, *rules)


def count_standings(edition: Edition) -> dict[Standing, int]:
    """Count how sure we are of what an edition holds; every standing is in it.

    Parameters
    ----------
    edition : Edition
        One of the editions.

    >>> count_standings(editions.get("nfpa72-2025"))["common practice"]
    0
    """
    found = Counter(item.standing for item in cited_by(edition))
    return {standing: found[standing] for standing in STANDINGS}


def span_of(edition: Edition, row: Row) -> Span | None:
    """Give the window that a row's frequency opens; None where another rule gives the day.

    Parameters
    ----------
    edition : Edition
        One of the editions.
    row : Row
        One of its rows.
    """
    if row.frequency not in FREQUENCIES:
        return None
    rule = WINDOW_RULES[edition.window_rule]
    return rule.get(row.frequency) or WINDOW_RULES["nfpa72"][row.frequency]


def printed() -> str:
    """Write the tables of all editions as one page of Markdown."""
    held = [editions.get(key) for key in editions.keys()]  # noqa: SIM118
    lines = [
        "# Code tables",
        "",
        "What each adopted edition asks of each kind of component, as the program holds it.",
        "Written by `manage.py print_code_tables`; a test keeps it true. Do not edit.",
        "",
        f"**{CAUTION}**",
        "",
        "Behind each frequency stands how sure we are: **A** (a regulator, accreditor, standards "
        "body), **B** (trade press, training body) or **C** (contractor's page, study guide, "
        "forum) where a published page restates it; **m** from memory, to be checked against a "
        "licensed copy; **p** common practice without source; **r** our reading where the code is "
        "silent. `-`: the edition says nothing, or nothing is held.",
        "",
        "## How sure we are",
        "",
        "Rows, clauses and rules with numbers of each edition.",
        "",
        f"| edition | {' | '.join(STANDINGS)} |",
        f"| --- |{' --: |' * len(STANDINGS)}",
    ]
    for edition in held:
        counts = count_standings(edition)
        lines.append(f"| {edition.title} | {' | '.join(str(n) for n in counts.values())} |")
    lines += [
        "",
        "## Components and editions",
        "",
        f"| component | task | {' | '.join(_short(edition) for edition in held)} |",
        f"| --- | --- |{' --- |' * len(held)}",
    ]
    for line in compare():
        cells = " | ".join(_cell(*cell) for cell in line.cells)
        lines.append(f"| {line.name} | {line.words} | {cells} |")
    lines += [
        "",
        "**Bold** asks otherwise than the edition before it.",
        "",
        "## Sources",
        "",
    ]
    lines += [f"- {grade}: {title}, <{address}>" for grade, title, address in SOURCES.values()]
    lines += ["", "## Notes", ""]
    lines += [f"- {edition.title}: {note}" for edition in held for note in edition.notes]
    return "\n".join(lines) + "\n"


def _short(edition: Edition) -> str:
    return str(edition.year) if edition.code == "NFPA 72" else edition.code


def _cell(row: Row | None, asked: str, moved: bool) -> str:
    if row is None:
        return "**-**" if moved else "-"
    mark = row.grade if row.is_confirmed else _LETTERS[row.standing]
    said = f"{asked} ({mark})"
    return f"**{said}**" if moved else said
