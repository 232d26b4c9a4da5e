"""Write the smallest workbook of the binary kind (XLS), so that reading one is tested.

Source: [MS-CFB] compound file and [MS-XLS] records, both published by their maker as open
specifications. Only what a reader needs: one sheet of texts and numbers.
"""

import struct

_FREE, _END, _FAT = 0xFFFFFFFF, 0xFFFFFFFE, 0xFFFFFFFD
_SECTOR = 512


def workbook(rows: list[list[str | float]], *, sheet: str = "List") -> bytes:
    """Give the bytes of a workbook with one sheet."""
    globals_head = _bof(0x0005) + _record(0x0042, struct.pack("<H", 1200))
    name = sheet.encode("latin-1")
    entry_size = 4 + 8 + len(name)
    start = len(globals_head) + entry_size + 4
    entry = _record(0x0085, struct.pack("<IBBBB", start, 0, 0, len(name), 0) + name)
    cells = b"".join(
        _cell(r, c, value) for r, row in enumerate(rows) for c, value in enumerate(row)
    )
    width = max(len(row) for row in rows)
    extent = _record(0x0200, struct.pack("<IIHHH", 0, len(rows), 0, width, 0))
    stream = (
        globals_head + entry + _record(0x000A) + _bof(0x0010) + extent + cells + _record(0x000A)
    )
    return _compound(stream)


def _record(kind: int, content: bytes = b"") -> bytes:
    return struct.pack("<HH", kind, len(content)) + content


def _bof(kind: int) -> bytes:
    return _record(0x0809, struct.pack("<HHHHII", 0x0600, kind, 0x0DBB, 1996, 0, 6))


def _cell(row: int, column: int, value: str | float) -> bytes:
    if value == "":
        return b""
    place = struct.pack("<HHH", row, column, 0)
    if isinstance(value, str):
        text = value.encode("utf-16-le")
        return _record(0x0204, place + struct.pack("<HB", len(value), 1) + text)
    return _record(0x0203, place + struct.pack("<d", value))


def _compound(stream: bytes) -> bytes:
    stream = stream.ljust(max(4096, -(-len(stream) // _SECTOR) * _SECTOR), b"\0")
    count = len(stream) // _SECTOR
    chain = [_FAT, _END, *range(3, count + 2), _END]
    fat = struct.pack("<128I", *(chain + [_FREE] * (128 - len(chain))))
    directory = _entry("Root Entry", 5, child=1) + _entry("Workbook", 2, start=2, size=len(stream))
    directory = directory.ljust(_SECTOR, b"\0")
    header = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16)
    header += struct.pack("<HHHHH", 0x3E, 3, 0xFFFE, 9, 6) + bytes(6)
    header += struct.pack("<IIIIIIIII", 0, 1, 1, 0, 4096, _END, 0, _END, 0)
    header += struct.pack("<109I", 0, *[_FREE] * 108)
    return header + fat + directory + stream


def _entry(name: str, kind: int, *, child: int = _FREE, start: int = 0, size: int = 0) -> bytes:
    text = (name + "\0").encode("utf-16-le")
    links = struct.pack("<III", _FREE, _FREE, child)
    entry = text.ljust(64, b"\0") + struct.pack("<HBB", len(text), kind, 1) + links
    return (entry + bytes(36) + struct.pack("<IQ", start, size)).ljust(128, b"\0")
