"""Open the bytes of a print-out: which kind of file, which encoding, and nothing too large."""

from __future__ import annotations

import re
from dataclasses import dataclass

from contractor.engine.layouts import limits
from contractor.engine.layouts.model import Unreadable

_OTHER_FILES: list[tuple[bytes, str]] = [
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"BM", "a picture (BMP)"),
    (b"II*\x00", "a picture (TIFF)"),
    (b"MM\x00*", "a picture (TIFF)"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"Rar!", "a RAR archive"),
    (b"BZh", "a bzip2 archive"),
    (b"\xfd7zXZ", "an xz archive"),
    (b"\x28\xb5\x2f\xfd", "a zstd archive"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
    (b"SQLite format 3", "a database"),
    (b"{\\rtf", "a rich text document"),
    (b"RIFF", "a sound, film or picture"),
    (b"OggS", "a sound or film"),
    (b"ID3", "a sound"),
]
_WANTED = "Export the print-out as CSV, text or XLSX."
_CONTROL = re.compile(r"[\x01-\x08\x0b\x0e-\x1f\x7f]")
_PRINTER = re.compile(r"\x1b(?:\[[0-9;?]*[A-Za-z]|[()][A-Z0-9]|[A-Za-z@]\d?)")
_BOX = re.compile("[\u2500-\u257f]")
#: Frames of box characters, as if drawn with bars, dashes and crosses.
_PLAIN_BOX = {
    code: "|" if code in (0x2502, 0x2503, 0x2506, 0x2507, 0x250A, 0x250B, 0x2551)
    else "-" if code in (0x2500, 0x2501, 0x2504, 0x2505, 0x2508, 0x2509, 0x2550)
    else "+"
    for code in range(0x2500, 0x2580)
}  # fmt: skip
_LETTER = "A-Za-z\u00c0-\u00d6\u00d8-\u00f6\u00f8-\u00ff"
_QUOTED = re.compile(rf"(?<![{_LETTER}])“([^“”\n]{{1,60}})”(?![{_LETTER}])")
_ODD_IN_WORD = re.compile(rf"(?<=[{_LETTER}])[^\x00-\x7f{_LETTER}’‘‑\u00ad](?=[{_LETTER}\s])")


@dataclass(frozen=True, slots=True)
class Text:
    """Text decoded, with the name of its encoding."""

    text: str
    encoding: str


def is_workbook(data: bytes) -> bool:
    """Tell whether the bytes are a zip archive or an old compound document, as workbooks are."""
    return (
        data[:4] in (b"PK\x03\x04", b"PK\x05\x06")
        or data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
    )


def check_size(data: bytes) -> None:
    """Refuse a file that is empty or too large."""
    if not data:
        raise Unreadable("The file is empty. Export the print-out again.")
    if len(data) > limits.MAX_FILE_BYTES:
        raise Unreadable(
            f"The file has {len(data) / 2**20:.0f} MB; at most {limits.MAX_FILE_BYTES // 2**20} MB "
            "are read. Export one system at a time."
        )


def check_kind(data: bytes) -> None:
    """Refuse bytes that are known to be neither text nor a workbook."""
    for start, name in _OTHER_FILES:
        if data.startswith(start) and (len(start) > 2 or not _is_plain(data[:512])):
            raise Unreadable(f"This is {name}, not a print-out that can be read. {_WANTED}")
    head = data[:1024].lstrip().lower()
    if head.startswith((b"<!doctype html", b"<html")):
        raise Unreadable(f"This is a web page, not a print-out. {_WANTED}")
    if head.startswith((b"<?xml", b"<!doctype", b"<!entity")):
        raise Unreadable(f"This is XML, not a print-out that can be read. {_WANTED}")


def _is_plain(head: bytes) -> bool:
    return all(byte >= 32 or byte in (9, 10, 12, 13) for byte in head)


def decode(data: bytes) -> Text:
    """Decode text as UTF-8, UTF-16, or the one-byte encoding in which its words look like words.

    Raises
    ------
    Unreadable
        If NUL bytes stand in it, or it is no text at all.
    """
    if data.startswith(b"\xef\xbb\xbf"):
        return _cleaned(_strict(data[3:], "utf-8"), "utf-8")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _cleaned(_strict(data, "utf-16"), "utf-16")
    if b"\x00" in data:
        wide = _wide_encoding(data)
        if wide:
            return _cleaned(_strict(data, wide), wide)
        if not data.strip(b"\x00\r\n\t "):
            raise Unreadable("The file holds nothing but NUL bytes. Export the print-out again.")
        first = data.index(b"\x00")
        line = data.count(b"\n", 0, first) + 1
        raise Unreadable(
            f"The file has {data.count(bytes(1))} NUL bytes, the first in line {line}: it is "
            "damaged or is not text. Export the print-out again."
        )
    try:
        return _cleaned(data.decode("utf-8"), "utf-8")
    except UnicodeDecodeError:
        return _cleaned(*_one_byte(data))


def _strict(data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        raise Unreadable(
            f"The file says that it is {encoding.upper()}, but byte {error.start} does not fit. "
            "Export the print-out again."
        ) from None


def _wide_encoding(data: bytes) -> str:
    """Recognise UTF-16 without its mark: every other byte of Western text is NUL."""
    even, odd = data[0:4000:2], data[1:4000:2]
    if len(data) % 2 == 0 and len(odd) >= 8:
        if odd.count(0) > 0.8 * len(odd) and even.count(0) < 0.05 * len(even):
            return "utf-16-le"
        if even.count(0) > 0.8 * len(even) and odd.count(0) < 0.05 * len(odd):
            return "utf-16-be"
    return ""


def _one_byte(data: bytes) -> tuple[str, str]:
    """Choose between the one-byte encodings by how many odd marks stand inside words."""
    best: tuple[int, str, str] | None = None
    for encoding in ("cp1252", "cp850", "mac-roman"):
        text = data.decode(encoding, errors="replace")
        odd = len(_ODD_IN_WORD.findall(_QUOTED.sub(r'"\1"', text)))
        odd += 5 * text.count("\ufffd")
        if best is None or odd < best[0]:
            best = (odd, text, encoding)
    assert best is not None
    return best[1], best[2]


def _cleaned(text: str, encoding: str) -> Text:
    if "\x00" in text:
        raise Unreadable(
            "The file has NUL characters in its text: it is damaged. Export the print-out again."
        )
    if "\x1b" in text:
        text = _PRINTER.sub("", text)
    controls = len(_CONTROL.findall(text))
    if controls > max(20, len(text) // 50):
        raise Unreadable(f"This is not text: it is full of control characters. {_WANTED}")
    if controls:
        text = _CONTROL.sub("", text)
    if _BOX.search(text):
        text = text.translate(_PLAIN_BOX)
    if not text.strip("\ufeff \t\r\n\f"):
        raise Unreadable("The file has only blank lines. Export the print-out again.")
    return Text(text.lstrip("\ufeff"), encoding)
