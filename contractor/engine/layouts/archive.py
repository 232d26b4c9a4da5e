"""Weigh a zipped workbook before anything unpacks it: real sizes, counts and tricks."""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib

from contractor.engine.layouts import limits
from contractor.engine.layouts.model import Unreadable

_AGAIN = "Save it again from a spreadsheet program, or export CSV."
_REFERENCE = re.compile(rb"""\br=["']([A-Z]{1,7})(\d{1,10})["']""")
_ODS_ROW = re.compile(rb"<table:table-row\b([^>]*)>(.*?)</table:table-row>", re.S)
_ODS_CELL = re.compile(
    rb"<table:(?:covered-)?table-cell\b([^>]*?)(?:/>|>(.*?)</table:(?:covered-)?table-cell>)", re.S
)
_REPEATED = {
    "rows": re.compile(rb'number-rows-repeated="(\d+)"'),
    "columns": re.compile(rb'number-columns-repeated="(\d+)"'),
}


def check(data: bytes) -> str:
    """Check a zip archive and tell which workbook it is: xlsx, xlsb, ods.

    Raises
    ------
    Unreadable
        If it is damaged, too large unpacked, protected, full of tricks, or no workbook.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        members = archive.infolist()
    except (zipfile.BadZipFile, ValueError, struct.error, OSError, NotImplementedError):
        raise Unreadable(f"The workbook is cut short or damaged. {_AGAIN}") from None
    if len(members) > limits.MAX_MEMBERS:
        raise Unreadable(f"The archive has {len(members):,} parts: that is no print-out. {_AGAIN}")
    kind = _kind({member.filename for member in members})
    if any(member.flag_bits & 1 for member in members):
        raise Unreadable("The workbook is protected by a password. Save it without one.")
    declared = sum(member.file_size for member in members)
    if declared > limits.MAX_UNPACKED_BYTES:
        _refuse_size(declared)
    total = 0
    for member in members:
        part = _unpack(data, member, limits.MAX_UNPACKED_BYTES - total)
        total += len(part)
        _check_ratio(member, len(part))
        if member.filename.endswith((".xml", ".rels", ".vml")):
            _check_xml(member.filename, part, kind)
    return kind


def _kind(names: set[str]) -> str:
    if "xl/workbook.xml" in names:
        return "xlsx"
    if "xl/workbook.bin" in names:
        return "xlsb"
    if any(name.startswith("xl/") for name in names) and "[Content_Types].xml" in names:
        return "xlsx"
    if "content.xml" in names:
        return "ods"
    if any(name.startswith("word/") for name in names):
        raise Unreadable("This is a text document, not a print-out. Export CSV, text or XLSX.")
    if any(name.startswith("ppt/") for name in names):
        raise Unreadable("This is a presentation, not a print-out. Export CSV, text or XLSX.")
    raise Unreadable("This is a zip archive, not a workbook. Unpack it and upload one file.")


def _refuse_size(size: int) -> None:
    raise Unreadable(
        f"The workbook unpacks to more than {limits.MAX_UNPACKED_BYTES // 2**20} MB "
        f"({size / 2**20:,.0f} MB or more): that is no print-out. {_AGAIN}"
    )


def _unpack(data: bytes, member: zipfile.ZipInfo, room: int) -> bytes:
    """Unpack one member by its own stream, whatever size the directory declares."""
    start = member.header_offset
    header = data[start : start + 30]
    if len(header) < 30 or header[:4] != b"PK\x03\x04":
        raise Unreadable(f"The workbook is cut short or damaged. {_AGAIN}")
    name_length, extra_length = struct.unpack("<HH", header[26:30])
    begin = start + 30 + name_length + extra_length
    packed = data[begin : begin + member.compress_size]
    if len(packed) < member.compress_size:
        raise Unreadable(f"The workbook is cut short. {_AGAIN}")
    if member.compress_type == zipfile.ZIP_STORED:
        if len(packed) > room:
            _refuse_size(len(packed))
        return packed
    if member.compress_type != zipfile.ZIP_DEFLATED:
        raise Unreadable(f"The workbook is packed in an unusual way. {_AGAIN}")
    try:
        unpacker = zlib.decompressobj(-15)
        part = unpacker.decompress(packed, room + 1)
    except zlib.error:
        raise Unreadable(f"The workbook is damaged in {member.filename[:60]!r}. {_AGAIN}") from None
    if len(part) > room:
        _refuse_size(limits.MAX_UNPACKED_BYTES)
    return part


def _check_ratio(member: zipfile.ZipInfo, size: int) -> None:
    if size > limits.RATIO_MATTERS_FROM_BYTES and size > limits.MAX_UNPACKED_RATIO * max(
        1, member.compress_size
    ):
        raise Unreadable(
            f"A part of the workbook unpacks to {size // max(1, member.compress_size)} times its "
            f"size: that is no print-out. {_AGAIN}"
        )


def _check_xml(name: str, part: bytes, kind: str) -> None:
    head = part[:4096]
    if b"<!DOCTYPE" in head or b"<!ENTITY" in part or head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise Unreadable(
            f"The workbook declares entities of its own, which no print-out does. {_AGAIN}"
        )
    if kind == "xlsx" and "worksheets/" in name:
        _check_extent(part)
    if kind == "ods" and name == "content.xml":
        _check_repeats(part)


def _check_extent(part: bytes) -> None:
    """Refuse cells far out: a reader would make a full rectangle up to them."""
    references = set(_REFERENCE.findall(part))
    if not references:
        return
    last_row = max(int(row) for _column, row in references)
    last_column = max((column for column, _row in references), key=lambda name: (len(name), name))
    check_extent(rows=last_row, columns=_column_number(last_column))


def _column_number(name: bytes) -> int:
    number = 0
    for letter in name:
        number = number * 26 + letter - 64
    return number


def check_extent(*, rows: int, columns: int) -> None:
    """Refuse a sheet with too many rows or columns."""
    if rows > limits.MAX_ROWS + 1_000:
        raise Unreadable(
            f"The sheet reaches to row {rows:,}; at most {limits.MAX_ROWS:,} rows are read. "
            "Export one system at a time."
        )
    if columns > limits.MAX_COLUMNS:
        raise Unreadable(
            f"The sheet reaches to column {columns:,}; at most {limits.MAX_COLUMNS} are read. "
            "Delete what stands to the right of the print-out."
        )


def _check_repeats(part: bytes) -> None:
    rows = 0
    for attributes, body in _ODS_ROW.findall(part):
        if b"office:value" not in body and b"<text:p" not in body:
            continue
        rows += _repeats("rows", attributes)
        columns = sum(
            _repeats("columns", cell) for cell, content in _ODS_CELL.findall(body) if content
        )
        check_extent(rows=rows, columns=columns)


def _repeats(which: str, attributes: bytes) -> int:
    match = _REPEATED[which].search(attributes)
    return int(match[1]) if match else 1
