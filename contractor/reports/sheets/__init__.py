"""Long tables of a report, laid out and drawn row by row, with their tags.

WeasyPrint spends 6 to 9 ms and 0.2 MB on a row of nine cells. Here a row costs a tenth: its columns
are fixed, its words are shaped once by WeasyPrint's own text engine in the faces of paper.css, and
its drawings are WeasyPrint's too. WeasyPrint lays out empty pages for the rows, so feet and page
numbers are its own; `binding.py` draws the rows on them and hangs their tags into its tree.
"""

from contractor.reports.sheets.binding import Bound
from contractor.reports.sheets.composing import Composed, Leaf, compose
from contractor.reports.sheets.model import (
    Cell,
    Column,
    Legend,
    Paragraph,
    Picture,
    Row,
    Sheet,
    Table,
    Words,
)
from contractor.reports.sheets.shaping import Shaper

__all__ = [
    "Bound",
    "Cell",
    "Column",
    "Composed",
    "Leaf",
    "Legend",
    "Paragraph",
    "Picture",
    "Row",
    "Shaper",
    "Sheet",
    "Table",
    "Words",
    "compose",
]
