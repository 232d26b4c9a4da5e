"""Understand a print-out of any shape: from bytes to a table with meaning.

No layout is known by name. A file is opened (`opening`, `archive`, `workbook`), cut into cells in
every way that it allows (`grids`, `paragraphs`), the table is found in it (`tables`), each column
is understood from its heading, its values and its neighbours together (`facts`, `meaning`,
`units`), and the rows are read (`rows`). What is not sure is asked, not guessed.
"""

from contractor.engine.layouts import limits
from contractor.engine.layouts.model import (
    LOOK_ONCE,
    MEANINGS,
    OBSCURATIONS,
    REST_KIND,
    REST_KINDS,
    SCALES,
    SURE,
    UNITS,
    Column,
    Printout,
    Problem,
    Question,
    Row,
    Unreadable,
    column_key,
)
from contractor.engine.layouts.reading import read
from contractor.engine.layouts.values import same_address

__all__ = [
    "LOOK_ONCE",
    "MEANINGS",
    "OBSCURATIONS",
    "REST_KIND",
    "REST_KINDS",
    "SCALES",
    "SURE",
    "UNITS",
    "Column",
    "Printout",
    "Problem",
    "Question",
    "Row",
    "Unreadable",
    "column_key",
    "limits",
    "read",
    "same_address",
]
