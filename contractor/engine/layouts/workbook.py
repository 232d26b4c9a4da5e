"""Turn the sheets of a workbook into grids of cells as a reader would see them."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date, datetime, time, timedelta
from typing import Any

from contractor.engine.layouts import archive, limits
from contractor.engine.layouts.grids import Grid, Line
from contractor.engine.layouts.model import Unreadable

_AGAIN = "Save it again from a spreadsheet program, or export CSV."


def grids(data: bytes) -> list[Grid]:
    """Read every visible sheet that holds anything.

    Raises
    ------
    Unreadable
        If the workbook is damaged, protected, too large, or has nothing in it.
    """
    # Imported here: text print-outs need no workbook reader.
    from python_calamine import CalamineError, CalamineWorkbook, PasswordError, SheetVisibleEnum

    kind = archive.check(data) if data[:2] == b"PK" else "xls"
    formats = _PercentFormats(data) if kind == "xlsx" else None
    found: list[Grid] = []
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        sheets = [s for s in book.sheets_metadata if s.visible == SheetVisibleEnum.Visible]
        if len(sheets) > limits.MAX_SHEETS:
            raise Unreadable(f"The workbook has {len(sheets)} sheets. Upload the one to read.")
        for place, meta in enumerate(book.sheets_metadata):
            if meta.visible != SheetVisibleEnum.Visible or "WorkSheet" not in str(meta.typ):
                continue
            sheet = book.get_sheet_by_index(place)
            archive.check_extent(rows=sheet.total_height, columns=sheet.total_width)
            values = sheet.to_python(skip_empty_area=False)
            merged = sheet.merged_cell_ranges or []
            percents = formats.of_sheet(place) if formats else {}
            grid = _grid(values, merged, percents, name=meta.name, kind=kind)
            if grid.lines:
                found.append(grid)
    except PasswordError:
        raise Unreadable("The workbook is protected by a password. Save it without one.") from None
    except Unreadable:
        raise
    except (CalamineError, ValueError, OSError, OverflowError, TypeError, RuntimeError) as error:
        if "assword" in str(error) or "ncrypt" in str(error):
            raise Unreadable(
                "The workbook is protected by a password. Save it without one."
            ) from None
        raise Unreadable(f"The workbook is damaged or of another kind. {_AGAIN}") from None
    except BaseException as error:
        # The reader is written in Rust: what it did not foresee arrives as a bare BaseException.
        if type(error).__name__ == "PanicException":
            raise Unreadable(f"The workbook is damaged. {_AGAIN}") from None
        raise
    if not found:
        raise Unreadable("The workbook has no cell with anything in it. Export it again.")
    return found


def _grid(
    values: list[list[Any]],
    merged: list[tuple[tuple[int, int], tuple[int, int]]],
    percents: dict[tuple[int, int], str],
    *,
    name: str,
    kind: str,
) -> Grid:
    rows = [
        [
            value if type(value) is str else as_printed(value, percents.get((r, c)))
            for c, value in enumerate(row)
        ]
        for r, row in enumerate(values)
    ]
    for (top, left), (bottom, right) in merged[:20_000]:
        _spread(rows, top, left, bottom, right)
    lines = [
        Line(number, [cell.strip() for cell in cells])
        for number, cells in enumerate(rows, 1)
        if any(cell and not cell.isspace() for cell in cells)
    ]
    spans = {(top + 1): (left, right) for (top, left), (bottom, right) in merged if bottom == top}
    return Grid(layout=kind, lines=lines, sheet=name, encoding=kind, merged_lines=set(spans))


def _spread(rows: list[list[str]], top: int, left: int, bottom: int, right: int) -> None:
    """Give every cell under a merged one its text: down for a loop's name, right for a heading."""
    if top >= len(rows) or left >= len(rows[top]):
        return
    text = rows[top][left]
    whole_width = left == 0 and right >= len(rows[top]) - 1 and right > 1
    if not text or whole_width:  # a title over the whole table stays one cell
        return
    for r in range(top, min(bottom + 1, len(rows))):
        for c in range(left, min(right + 1, len(rows[r]))):
            if not rows[r][c]:
                rows[r][c] = text


def as_printed(value: Any, number_format: str | None = None) -> str:
    """Give a cell's value as text: 15 digits as spreadsheets show, days as year-month-day."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        if number_format == "%":
            return f"{value * 100:.12g}%"
        if value.is_integer() and abs(value) < 1e15:
            return f"{int(value)}{number_format or ''}"
        return f"{value:.12g}{number_format or ''}"
    if isinstance(value, int):
        return f"{value * 100}%" if number_format == "%" else f"{value}{number_format or ''}"
    if isinstance(value, datetime):
        plain = value.hour == value.minute == value.second == 0
        return value.strftime("%Y-%m-%d" if plain else "%Y-%m-%d %H:%M:%S")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return value.strftime("%H:%M:%S")
    if isinstance(value, timedelta):
        seconds = int(value.total_seconds())
        return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
    return "" if value is None else str(value)


class _PercentFormats:
    """Find the cells of an XLSX workbook whose number format shows percent or a unit.

    The workbook reader hands out bare values: 0.44 for a cell that shows 44 %.
    """

    _FORMAT = re.compile(rb"<numFmt\b([^>]*)/?>")
    _STYLE = re.compile(rb"<xf\b([^>]*)/?>")
    _CELL = re.compile(
        rb'<c\b[^>]*?\br="([A-Z]{1,3})(\d{1,7})"[^>]*?\bs="(\d{1,5})"|<c\b[^>]*?\bs="(\d{1,5})"[^>]*?\br="([A-Z]{1,3})(\d{1,7})"'
    )

    def __init__(self, data: bytes) -> None:
        self._archive = zipfile.ZipFile(io.BytesIO(data))
        self._names = set(self._archive.namelist())
        self._styles = self._read_styles()

    def _read(self, name: str) -> bytes:
        try:
            return self._archive.read(name) if name in self._names else b""
        except (zipfile.BadZipFile, OSError, ValueError, EOFError, NotImplementedError):
            return b""

    def _read_styles(self) -> dict[bytes, str]:
        text = self._read("xl/styles.xml")
        own = {}
        for attributes in self._FORMAT.findall(text):
            number = re.search(rb'numFmtId="(\d+)"', attributes)
            code = re.search(rb'formatCode="([^"]*)"', attributes)
            if number and code:
                own[number[1]] = _shown_after(code[1].decode("utf-8", "replace"))
        own |= {b"9": "%", b"10": "%"}
        block = re.search(rb"<cellXfs\b.*?</cellXfs>", text, re.S)
        styles = {}
        for place, attributes in enumerate(self._STYLE.findall(block[0] if block else b"")):
            number = re.search(rb'numFmtId="(\d+)"', attributes)
            if number and own.get(number[1]):
                styles[str(place).encode()] = own[number[1]]
        return styles

    def of_sheet(self, place: int) -> dict[tuple[int, int], str]:
        """Give what the format shows after the number, by row and column from zero."""
        if not self._styles:
            return {}
        found = {}
        for match in self._CELL.finditer(self._read(self._path(place))):
            style = match[3] or match[4]
            shown = self._styles.get(style)
            if shown:
                column, row = (match[1], match[2]) if match[1] else (match[5], match[6])
                number = archive._column_number(column)
                found[int(row) - 1, number - 1] = shown
        return found

    def _path(self, place: int) -> str:
        """Find the part that holds a sheet, through the workbook's own list of relations."""
        sheets = re.findall(rb"<(?:\w+:)?sheet\b([^>]*)>", self._read("xl/workbook.xml"))
        fallback = f"xl/worksheets/sheet{place + 1}.xml"
        if place >= len(sheets):
            return fallback
        relation = re.search(rb'\b\w+:id="([^"]+)"', sheets[place])
        if not relation:
            return fallback
        for attributes in re.findall(
            rb"<Relationship\b([^>]*)>", self._read("xl/_rels/workbook.xml.rels")
        ):
            if b'Id="' + relation[1] + b'"' in attributes:
                target = re.search(rb'Target="([^"]+)"', attributes)
                if target:
                    path = target[1].decode("utf-8", "replace").lstrip("/")
                    return path if path.startswith("xl/") else f"xl/{path}"
        return fallback


def _shown_after(code: str) -> str:
    """Tell what a number format shows after the number: "%", a quoted unit, or nothing."""
    code = code.split(";")[0].replace("&quot;", '"')
    quoted = "".join(re.findall(r'"([^"]*)"', code))
    bare = re.sub(r'"[^"]*"|\\.|\[[^\]]*\]', "", code)
    if "%" in bare:
        return "%"
    return f" {quoted.strip()}" if re.search(r"%|°|/m|/ft|dB|OD", quoted) else ""
