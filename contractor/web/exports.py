"""Answer lists as CSV that no spreadsheet takes for formulas."""

import csv
import io
from collections.abc import Iterable, Sequence

from django.http import HttpResponse

_FORMULAS = ("=", "+", "-", "@", "\t", "\r")


def as_csv(*, name: str, heads: Sequence[str], rows: Iterable[Sequence[object]]) -> HttpResponse:
    """Answer rows as a file; text that could be a formula gets an apostrophe in front."""
    answer = HttpResponse("\ufeff" + write_csv(heads, rows), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer


def write_csv(heads: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Write rows under their heads."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(heads)
    for row in rows:
        writer.writerow([_plain(cell) for cell in row])
    return out.getvalue()


def _plain(cell: object) -> object:
    if cell is None:
        return ""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULAS) else cell
