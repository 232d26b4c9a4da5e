"""Lay the parts of a sheet out as pages: places, operators, and the tree of their tags."""

import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from django.utils.translation import gettext

from contractor.reports.sheets.cells import (
    ABOVE,
    BELOW,
    BESIDE,
    Measured,
    cut,
    height_of,
    widths_of,
)
from contractor.reports.sheets.model import (
    Cell,
    Column,
    Legend,
    Paragraph,
    Picture,
    Sheet,
    Table,
    Words,
)
from contractor.reports.sheets.shaping import Shaped, Shaper
from contractor.reports.sheets.structure import Node
from contractor.web import charts, glyphs

#: Between a shape and its word. [px]
GAP = 5.0
Progress = Callable[[int], None]


@dataclass(slots=True)
class Leaf:
    """One page of a sheet: what is drawn, how far down, and its headings for the outline."""

    packed: bytes  # operators, compressed until the page is written
    height: float  # [px]
    marks: list[Node]  # by MCID
    headings: list[tuple[int, str, float]] = field(default_factory=list)


def compose(sheet: Sheet, shaper: Shaper, *, progress: Progress | None = None) -> "Composed":
    """Lay a sheet out on as many pages as it needs."""
    composer = _Composer(shaper, progress)
    for part in sheet.parts:
        if isinstance(part, Paragraph):
            composer.add_paragraph(part)
        elif isinstance(part, Table):
            composer.add_table(part)
        else:
            composer.add_legend(part)
    return Composed(sheet.key, composer.end(), composer.root, composer.rows_done)


@dataclass(slots=True)
class Composed:
    """A sheet as pages, and the root of its tags."""

    key: str
    leaves: list[Leaf]
    root: Node
    rows: int


class _Composer:
    """Fill page after page from the top."""

    def __init__(self, shaper: Shaper, progress: Progress | None) -> None:
        self.shaper, self.progress = shaper, progress
        self.root = Node("Sect", None)
        self.leaves: list[Leaf] = []
        self.rows_done = 0
        self._waiting: list[tuple[Paragraph, Measured]] = []
        self._begin()

    def _begin(self) -> None:
        self.content: list[bytes] = []
        self.artifacts: list[bytes] = []
        self.marks: list[Node] = []
        self.headings: list[tuple[int, str, float]] = []
        self.y = 0.0

    def _turn(self) -> None:
        """Close the page and begin another."""
        self.leaves.append(self._leaf())
        self._begin()

    def end(self) -> list[Leaf]:
        """Close the last page."""
        self._flush(0.0)
        if self.content or self.artifacts or not self.leaves:
            self.leaves.append(self._leaf())
        return self.leaves

    def _leaf(self) -> Leaf:
        body = b"\n".join(self.content)
        drawn = b"\n".join(self.artifacts)
        left, top = self.shaper.left, self.shaper.top
        operators = b"q\n0.75 0 0 0.75 %.2f %.2f cm\n%b\n/Artifact BMC\n%b\nEMC\nQ" % (
            left * 0.75,
            top * 0.75,
            body,
            drawn,
        )
        return Leaf(zlib.compress(operators, 1), self.y, self.marks, self.headings)

    # Paragraphs

    def add_paragraph(self, part: Paragraph) -> None:
        """Set a heading or a note; one that is kept waits for what follows it."""
        cell = self._measure((Words(part.text, part.face, part.tone),), self.shaper.width)
        self._waiting.append((part, cell))
        if not part.keep:
            self._flush(0.0)

    def _flush(self, following: float) -> None:
        """Set what waits, on the next page if what follows would not stand below it."""
        waiting, self._waiting = self._waiting, []
        height = sum(part.before + cell.height for part, cell in waiting)
        if waiting and self.y and self.y + height + following > self.shaper.height:
            self._turn()
        for part, cell in waiting:
            if self.y:
                self.y += part.before
            if self.y + cell.height > self.shaper.height and self.y:
                self._turn()
            node = self.root.add(Node(part.tag, self.root))
            if part.tag != "P":
                self.headings.append((int(part.tag[1:]), part.text, self.y))
            self._mark(node, self._write(cell, 0.0, self.y))
            self.y += cell.height

    def add_legend(self, legend: Legend) -> None:
        """Set shapes with their words side by side, in as many lines as they need."""
        face = self.shaper.faces["note"]
        node = self.root.add(Node("P", self.root))
        placed: list[tuple[str, str, float, float, Shaped]] = []
        x, line = 0.0, 0
        for shape, tone, text in legend.entries:
            shaped = self.shaper.shape(text, "note", self.shaper.width)[0]
            wide = 14 + GAP + shaped.width
            if x and x + wide > self.shaper.width:
                x, line = 0.0, line + 1
            placed.append((shape, tone, x, line * 20.0, shaped))
            x += wide + 18
        height = (line + 1) * 20.0 + 8
        if self.y + height > self.shaper.height:
            self._turn()
        words = []
        for shape, tone, at, down, shaped in placed:
            y = self.y + 8 + down + face.baseline
            self._shape(shape, tone, 14, at, y + 3 - 14)
            words.append(self._words(shaped, "ink2", at + 14 + GAP, y))
        self._mark(node, b"\n".join(words))
        self.y += height

    # Tables

    def add_table(self, table: Table) -> None:
        """Set rows under their head; a page that goes on begins with the head again."""
        widths = widths_of(table.columns, self.shaper.width)
        places = [sum(widths[:at]) for at in range(len(widths))]
        heads = [
            self._head_cell(column, wide)
            for column, wide in zip(table.columns, widths, strict=True)
        ]
        head_height = max(cell.height for cell in heads) + 5 + 1.5
        node = Node("Table", self.root)
        body = Node("TBody", node)
        begun = False
        for row in table.rows:
            cells = [
                self._measure(cell, wide - BESIDE)
                for cell, wide in zip(row.cells, widths, strict=True)
            ]
            more = self._measure(
                (Words(row.more, "text", "ink2"),) if row.more else (),
                self.shaper.width - widths[0] - BESIDE,
            )
            # A row taller than a page goes on in further rows, each at most a page high.
            most = self.shaper.height - head_height - ABOVE - BELOW - 10
            for set_, across in cut(cells, more, most):
                height = height_of(set_)
                below = across.height + BELOW if across.lines else 0.0
                if not begun:
                    self._flush(head_height + height + below)
                    if self.y and self.y + 8 + head_height + height + below > self.shaper.height:
                        self._turn()
                    self.y += 8 if self.y else 0
                    self.root.add(node)
                    self._head(table.columns, heads, places, widths, head_height, node)
                    node.add(body)
                    begun = True
                elif self.y + height + below > self.shaper.height:
                    self._turn()
                    self._head(table.columns, heads, places, widths, head_height, None)
                self._row(set_, across, places, widths, height, body, table.columns)
            self.rows_done += 1
            if self.progress and self.rows_done % 100 == 0:
                self.progress(self.rows_done)

    def _head_cell(self, column: Column, wide: float) -> Measured:
        if isinstance(column.head, Picture):
            return self._measure(column.head, wide - BESIDE)
        return self._measure((Words(column.head, "head"),), wide - BESIDE)

    def _head(
        self,
        columns: tuple[Column, ...],
        heads: list[Measured],
        places: list[float],
        widths: list[float],
        height: float,
        table: Node | None,
    ) -> None:
        """Set the head; where the table goes on it is no content but part of the page."""
        row = None
        if table is not None:
            group = table.add(Node("THead", table))
            row = group.add(Node("TR", group))
        for column, cell, x, wide in zip(columns, heads, places, widths, strict=True):
            tall = cell.picture[2].height if cell.picture else cell.height + 3
            y = self.y + height - 1.5 - tall
            operators = self._write(cell, x, y, wide if column.at_right else 0.0)
            if row is None:
                self.artifacts.append(operators)
            else:
                head = row.add(Node("TH", row, scope="Column"))
                self._mark_cell(head, cell, operators, x, y)
        self.y += height
        self._rule(self.y - 0.75, 1.5, "ink")

    def _row(
        self,
        cells: list[Measured],
        more: Measured,
        places: list[float],
        widths: list[float],
        height: float,
        body: Node,
        columns: tuple[Column, ...],
    ) -> None:
        if cells:
            node = body.add(Node("TR", body))
            for at, (cell, x, column) in enumerate(zip(cells, places, columns, strict=True)):
                head = Node("TH", node, scope="Row") if at == 0 else Node("TD", node)
                node.add(head)
                y = self.y if cell.picture else self.y + ABOVE
                operators = self._write(cell, x, y, widths[at] if column.at_right else 0.0)
                self._mark_cell(head, cell, operators, x, y)
            self.y += height
        if more.lines:
            below = body.add(Node("TR", body))
            across = below.add(Node("TD", below, span=len(columns)))
            self._mark(across, self._write(more, places[1], self.y - 1))
            self.y += more.height + BELOW
        self._rule(self.y - 0.5, 1, "line")

    # Measuring

    def _measure(self, cell: Cell, width: float) -> Measured:
        if isinstance(cell, Picture):
            svg = charts.draw(cell.drawing, width=cell.width)
            operators = self.shaper.draw(svg, width=cell.width, height=cell.height)
            said = svg.partition("<title>")[2].partition("</title>")[0]
            return Measured([], [], cell.height, (operators, said, cell))
        lines: list[tuple[Shaped, str, float, float]] = []
        shapes: list[tuple[str, str, float, float]] = []
        y = 0.0
        for words in cell:
            y = self._measure_words(words, width, y, lines, shapes)
        return Measured(lines, shapes, y)

    def _measure_words(
        self,
        words: Words,
        width: float,
        y: float,
        lines: list[tuple[Shaped, str, float, float]],
        shapes: list[tuple[str, str, float, float]],
    ) -> float:
        face = self.shaper.faces[words.face]
        indent = 0.0
        if words.face == "number":
            width = self.shaper.width  # a number is never broken
        if words.state:
            state = glyphs.find_state(words.state)
            said = words.word or gettext(state.word)
            indent = words.size + GAP
            shapes.append((state.glyph, state.tone, words.size, y + face.baseline))
            for at, shaped in enumerate(self.shaper.shape(said, "strong", width, indent=indent)):
                if at:
                    y, indent = y + face.leading, 0.0
                lines.append((shaped, state.tone, indent, y + face.baseline))
                end = indent + shaped.width
            indent = end + 4 if words.text else 0.0
            if not words.text:
                return y + face.leading
        for at, shaped in enumerate(
            self.shaper.shape(words.text, words.face, width, indent=indent)
        ):
            lines.append((shaped, words.tone, 0.0 if at else indent, y + face.baseline))
            y += face.leading
        return y

    # Drawing

    def _mark(self, node: Node, operators: bytes) -> None:
        """Put operators under a node of the tree; nothing drawn leaves it empty."""
        if not operators:
            return
        mcid = len(self.marks)
        node.hold(len(self.leaves), mcid)
        self.marks.append(node)
        self.content.append(b"/%b <</MCID %d>> BDC\n%b\nEMC" % (node.tag.encode(), mcid, operators))

    def _mark_cell(self, node: Node, cell: Measured, operators: bytes, x: float, y: float) -> None:
        if cell.picture is None:
            self._mark(node, operators)
            return
        _, said, picture = cell.picture
        shaper = self.shaper
        left, top = x + shaper.left, y + shaper.top
        box = (left, top, left + picture.width, top + picture.height)
        self._mark(node.add(Node("Figure", node, said=said, box=box)), operators)

    def _write(self, cell: Measured, x: float, y: float, right: float = 0.0) -> bytes:
        """Write a cell from its upper left corner on; its shapes are no content."""
        if cell.picture is not None:
            return b"q 1 0 0 1 %.2f %.2f cm\n%b\nQ" % (x, y, cell.picture[0])
        for name, tone, size, down in cell.shapes:
            self._shape(name, tone, size, x, y + down + 3 - size)
        return b"\n".join(
            self._words(
                shaped,
                tone,
                x + right - BESIDE - shaped.width if right else x + indent,
                y + down,
            )
            for shaped, tone, indent, down in cell.lines
            if shaped.operators
        )

    def _words(self, shaped: Shaped, tone: str, x: float, y: float) -> bytes:
        said = b"%b rg BT\n1 0 0 -1 %.2f %.2f Tm\n%b\nET" % (_rgb(tone), x, y, shaped.operators)
        if shaped.pictures:
            said += b"\nq 1 0 0 1 %.2f %.2f cm\n%b\nQ" % (x, y, shaped.pictures)
        return said

    def _shape(self, name: str, tone: str, size: float, x: float, y: float) -> None:
        svg = glyphs.glyph(name, size=int(size), colour=charts.colour(tone))
        drawn = self.shaper.draw(svg, width=size, height=size)
        self.artifacts.append(b"q 1 0 0 1 %.2f %.2f cm\n%b\nQ" % (x, y, drawn))

    def _rule(self, y: float, thick: float, tone: str) -> None:
        self.artifacts.append(
            b"%b RG %.2f w 0 %.2f m %.2f %.2f l S" % (_rgb(tone), thick, y, self.shaper.width, y)
        )


_COLOURS: dict[str, bytes] = {}


def _rgb(tone: str) -> bytes:
    """Give a tone as PDF writes it."""
    if tone not in _COLOURS:
        said = charts.colour(tone).lstrip("#")
        parts: Iterator[int] = (int(said[at : at + 2], 16) for at in (0, 2, 4))
        _COLOURS[tone] = " ".join(f"{part / 255:.3f}" for part in parts).encode()
    return _COLOURS[tone]
