"""Answer lists as CSV or XLSX that no spreadsheet takes for formulas."""

import csv
import io
import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

FORMS = ("csv", "xlsx")
_FORMULAS = ("=", "+", "-", "@", "\t", "\r")
#: What the file format cannot hold.
_NO_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
_LONGEST_CELL = 32_767
_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def asked(request: HttpRequest) -> str:
    """Tell in which form a list is asked for; empty: as a page."""
    form = request.GET.get("as", "")
    return form if form in FORMS else ""


def as_file(
    form: str, *, name: str, heads: Sequence[str], rows: Iterable[Sequence[object]]
) -> HttpResponse:
    """Answer rows as a file of the form that was asked for; CSV unless XLSX."""
    if form == "xlsx":
        answer = HttpResponse(write_xlsx(heads, rows, name=name), content_type=_XLSX)
        answer["Content-Disposition"] = f'attachment; filename="{name}.xlsx"'
        return answer
    return as_csv(name=name, heads=heads, rows=rows)


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


def write_xlsx(
    heads: Sequence[str], rows: Iterable[Sequence[object]], *, name: str = "list"
) -> bytes:
    """Write rows under their heads as a workbook: numbers and days typed, all else text.

    Text stays text by its cell's type, so that nothing needs to stand in front of it.
    """
    book = Workbook(write_only=True)
    sheet = book.create_sheet(re.sub(r"[^A-Za-z0-9 -]", " ", name)[:31] or "list")
    sheet.freeze_panes = "A2"
    sheet.append([_cell(sheet, head) for head in heads])
    for row in rows:
        sheet.append([_cell(sheet, value) for value in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _cell(sheet: Any, value: object) -> Any:
    if value is None or value == "":
        return None
    if isinstance(value, bool):
        value = "yes" if value else "no"
    if isinstance(value, datetime):
        value = value.replace(tzinfo=None)  # the format knows no zones
    if isinstance(value, (int, float, Decimal, date)):
        cell = WriteOnlyCell(sheet, value=value)
        if isinstance(value, date):
            cell.number_format = "yyyy-mm-dd hh:mm" if isinstance(value, datetime) else "yyyy-mm-dd"
        return cell
    cell = WriteOnlyCell(sheet, value="")
    cell.value = _NO_XML.sub("", str(value))[:_LONGEST_CELL]
    cell.data_type = "s"  # openpyxl takes a leading = for a formula
    return cell


def _plain(cell: object) -> object:
    if cell is None:
        return ""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULAS) else cell
