"""The code tables: what each edition asks, where editions differ, and how sure we are."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.http import Http404, HttpResponse
from django.shortcuts import render

from contractor.due import drawings, queries
from contractor.engine import editions
from contractor.engine.editions.comparing import (
    CAUTION,
    compare,
    count_standings,
    say_how_often,
    span_of,
)
from contractor.engine.editions.model import COMPONENTS, STANDINGS, Edition, Row
from contractor.engine.editions.windows import Span
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.web import glyphs
from contractor.web.door import FirmRequest, firm_view

if TYPE_CHECKING:
    from contractor.due.models import LocalRule

#: The shape of each standing; the word stands beside it or in the legend.
SHAPES = {
    "confirmed": "bead",
    "common practice": "window",
    "from memory": "ring",
    "our reading": "tether",
}


@firm_view(Permission.READ)
def rules(request: FirmRequest) -> HttpResponse:
    """Lay the editions side by side, with how sure we are of each."""
    show = "all" if request.GET.get("show") == "all" else "differ"
    marks = {
        (standing, grade): glyphs.glyph(shape, label=f"{standing} {grade}".strip(), size=12)
        for standing, shape in SHAPES.items()
        for grade in ("", "A", "B", "C")
    }
    held = [editions.get(key) for key in editions.keys()]  # noqa: SIM118
    buildings = queries.count_buildings_by_edition(firm_id=request.firm.pk)
    lines = compare()
    differing = [line for line in lines if line.differs]
    table = [
        (
            line,
            [
                (marks[row.standing, row.grade] if row else "", asked, moved)
                for row, asked, moved in line.cells
            ],
        )
        for line in (differing if show == "differ" else lines)
    ]
    counted = [(edition, count_standings(edition)) for edition in held]
    context = {
        "editions": [
            (edition, counts, drawings.draw_standings(counts), buildings.get(edition.key, 0))
            for edition, counts in counted
        ],
        "held": [
            (edition, str(edition.year) if edition.code == "NFPA 72" else edition.code)
            for edition in held
        ],
        "table": table,
        "show": show,
        "differing": len(differing),
        "total": len(lines),
        "caution": CAUTION,
        "local": queries.list_all_local_rules(firm_id=request.firm.pk).count(),
        "section": "Buildings",
    }
    return render(request, "due/rules.html", context)


@dataclass(frozen=True)
class _Shown:
    """One row as the page shows it, with the local rules that change it."""

    name: str  # empty where the row above is of the same component
    row: Row
    often: str
    span: Span | None
    rules: "tuple[LocalRule, ...]"


@firm_view(Permission.READ)
def edition(request: FirmRequest, edition: str) -> HttpResponse:
    """Show everything that one edition asks, row by row, with its source."""
    try:
        held = editions.get(edition)
    except editions.UnknownEdition:
        raise Http404 from None
    show = request.GET.get("show", "")
    show = show if show in STANDINGS else ""
    buildings = [
        building
        for building in register.list_buildings(firm_id=request.firm.pk)
        if building.edition == held.key
    ]
    places = {building.jurisdiction.strip().casefold() for building in buildings}
    local = [
        rule
        for rule in queries.list_all_local_rules(firm_id=request.firm.pk)
        if rule.jurisdiction.strip().casefold() in places
    ]
    rows = [row for row in held.rows if not show or row.standing == show]
    counts = count_standings(held)
    context = {
        "edition": held,
        "rows": list(_shown(held, rows, local)),
        "extra": [(COMPONENTS[r.component].name, r) for r in local if r.effect == "extra"],
        "approvals": [rule for rule in local if rule.effect == "approval"],
        "show": show,
        "by_standing": [
            (standing, n)
            for standing in STANDINGS
            if (n := sum(row.standing == standing for row in held.rows))
        ],
        "counts": counts,
        "total": sum(counts.values()),
        "rest": ", ".join(
            f"{count} {standing}"
            for standing, count in counts.items()
            if count and standing != "confirmed"
        ),
        "bar": drawings.draw_standings(counts),
        "buildings": buildings,
        "caution": CAUTION,
        "sources": sorted(
            {source for row in held.rows for source in row.references},
            key=lambda source: (source.grade, source.title),
        ),
        "section": "Buildings",
    }
    return render(request, "due/edition.html", context)


def _shown(held: Edition, rows: "list[Row]", local: "list[LocalRule]") -> "list[_Shown]":
    order = list(COMPONENTS)
    found: list[_Shown] = []
    before = ""
    for row in sorted(rows, key=lambda row: order.index(row.component)):
        changing = tuple(
            rule
            for rule in local
            if rule.effect == "oftener" and (rule.component, rule.task) == (row.component, row.key)
        )
        found.append(
            _Shown(
                name="" if row.component == before else row.name,
                row=row,
                often=say_how_often(held, row),
                span=span_of(held, row),
                rules=changing,
            )
        )
        before = row.component
    return found
