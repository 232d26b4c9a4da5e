"""Draw a run of labels: a square code, and beside or under it what a person reads."""

from collections.abc import Sequence
from dataclasses import dataclass

import segno
from django.utils.translation import gettext

from contractor.engine.label_codes import TAIL, draw_code, is_code, say_code
from contractor.labels.pdf import Sheet
from contractor.labels.stocks import Stock

#: What a phone's camera wants at arm's length; common practice, no source [mm].
LEAST_MODULE = 0.4
_QUIET = 4  # modules of white round a code: ISO/IEC 18004
_EDGE = 1.0  # nothing is drawn nearer to a label's edge [mm]


class TooSmall(Exception):
    """The label has no room for a code that a camera can read."""


@dataclass(frozen=True)
class Printed:
    """What stands on one label; without an address it is bound on the spot."""

    code: str
    address: str = ""
    text: str = ""


def address_of(code: str, *, server: str) -> str:
    """Write the address that a code's square holds.

    In capitals it stays among the characters that a QR code packs tightly: a version smaller.
    """
    return f"{server.rstrip('/').upper()}/D/{code}"


def draw(*, stock: Stock, first: int, labels: Sequence[Printed], server: str, title: str) -> bytes:
    """Draw labels onto their stock, from a place on that counts from 1, as PDF.

    Raises
    ------
    TooSmall
        If a code would be finer than a camera can read.
    """
    sheet = Sheet(title=title)
    pages = 0
    for number, label in enumerate(labels):
        page, x, y = stock.place(first - 1 + number)
        while pages <= page:
            sheet.page(stock.page_width, stock.page_height)
            pages += 1
        _draw_one(sheet, stock, label, x, y, server)
    return sheet.finish()


def find_square(*, stock: Stock, code: str, server: str) -> tuple[float, float, float]:
    """Tell where on its label a code's square stands, without its quiet zone: x, y, side [mm].

    Raises
    ------
    TooSmall
        If it would be finer than a camera can read.
    """
    modules = len(_make(code, server).matrix)
    module, x, y = _arrange(stock, modules)
    return x, y, modules * module


def check_room(*, stock: Stock, server: str) -> None:
    """Make sure that a code of this server fits onto a stock.

    Raises
    ------
    TooSmall
        If it would be finer than a camera can read.
    """
    find_square(stock=stock, code=draw_code(lambda below: 2), server=server)


def _make(code: str, server: str) -> segno.QRCode:
    content = address_of(code, server=server) if is_code(code) else code
    return segno.make(content, error="q", micro=False, boost_error=False)


def _is_beside(stock: Stock) -> bool:
    return stock.width - stock.height >= 15


def _arrange(stock: Stock, modules: int) -> tuple[float, float, float]:
    """Find the size of a module and the corner of the dark square [mm]."""
    if _is_beside(stock):
        room = stock.height
    else:
        room = min(stock.width, stock.height - _EDGE - _text_height(stock))
    module = room / (modules + 2 * _QUIET)
    if module < LEAST_MODULE:
        raise TooSmall(
            gettext(
                "On %(name)s a square would be %(module)s mm, and a camera wants"
                " %(least_module)s mm. Choose larger labels, or give this server a shorter name."
            )
            % {"name": stock.name, "module": f"{module:.2f}", "least_module": LEAST_MODULE}
        )
    quiet = _QUIET * module
    if _is_beside(stock):
        return module, quiet, quiet
    return module, (stock.width - modules * module) / 2, quiet


def _text_height(stock: Stock) -> float:
    return 5.6 if stock.height < 40 else 12.5


def _draw_one(sheet: Sheet, stock: Stock, label: Printed, x: float, y: float, server: str) -> None:
    square = _make(label.code, server)
    modules = len(square.matrix)
    module, dx, dy = _arrange(stock, modules)
    sheet.squares(square.matrix, x + dx, y + dy, module)
    if _is_beside(stock):
        left = x + (modules + 2 * _QUIET) * module
        _beside(sheet, label, left, y, x + stock.width - _EDGE - left, stock.height)
    else:
        top = y + dy + (modules + _QUIET - 1) * module
        room = stock.width - 2 * _EDGE - 0.8
        _under(sheet, label, x + _EDGE + 0.4, top, room, y + stock.height - _EDGE)


def _beside(sheet: Sheet, label: Printed, x: float, y: float, room: float, height: float) -> None:
    """Write the address, the place in as many lines as fit, and the code with its end large."""
    head = min(4.6, height * 0.18)
    small = max(1.9, min(2.9, height * 0.1))
    foot = y + height - _EDGE - 0.8
    _code(sheet, label.code, x, foot, room, head * 0.85, small)
    if not label.address:
        sheet.line(x, y + height * 0.4, room)
        return
    size = _shrink(sheet, label.address, "code", head, room)
    base = y + _EDGE + 0.4 + head * 0.8
    sheet.text(_fit(sheet, label.address, "code", size, room), x, base, size, "code")
    lines = int((foot - head * 0.85 - small * 1.2 - base) // (small * 1.2))
    for words in _wrap(sheet, label.text, "text", small, room, lines):
        base += small * 1.2
        sheet.text(words, x, base, small, "text")


def _under(sheet: Sheet, label: Printed, x: float, top: float, room: float, foot: float) -> None:
    height = foot - top
    small = 1.9 if height < 9 else 2.7
    head = 2.7 if height < 9 else 4.2
    last = label.code[-TAIL:] if is_code(label.code) else ""
    wide = sheet.faces["code"].width(last, head)
    base = top + head * 0.8
    if last:
        sheet.text(last, x + room - wide, base, head, "code")
    if label.address:
        left = room - wide - 1
        size = _shrink(sheet, label.address, "strong", head, left)
        sheet.text(_fit(sheet, label.address, "strong", size, left), x, base, size, "strong")
    else:
        sheet.line(x, base, room - wide - 1)
    whole = say_code(label.code)
    lines = int((foot - base) // (small * 1.2)) - 1
    for words in _wrap(sheet, label.text, "text", small, room, lines):
        base += small * 1.2
        sheet.text(words, x, base, small, "text")
    sheet.text(_fit(sheet, whole, "code", small, room), x, foot - 0.3, small, "code")


def _code(
    sheet: Sheet, code: str, x: float, foot: float, room: float, large: float, small: float
) -> None:
    """Write the code: the beginning small, the end that is enough to type large."""
    if not is_code(code):
        sheet.text(_fit(sheet, code, "code", small, room), x, foot, small, "code")
        return
    begin, end = say_code(code)[:-TAIL], code[-TAIL:]
    face = sheet.faces["code"]
    if face.width(begin, small) + face.width(end, large) <= room:
        sheet.text(begin, x, foot, small, "code")
        sheet.text(end, x + face.width(begin, small), foot, large, "code")
    else:
        sheet.text(_fit(sheet, begin, "code", small, room), x, foot - large, small, "code")
        sheet.text(end, x, foot, large, "code")


def _shrink(sheet: Sheet, words: str, face: str, size: float, room: float) -> float:
    """Write smaller, down to 60 %, before anything is cut off."""
    wide = sheet.faces[face].width(words, size)
    return size if wide <= room else max(size * 0.6, size * room / wide)


def _fit(sheet: Sheet, words: str, face: str, size: float, room: float) -> str:
    """Cut words that are too long, and show that they are cut."""
    width = sheet.faces[face].width
    if width(words, size) <= room:
        return words
    while words and width(f"{words}…", size) > room:
        words = words[:-1]
    return f"{words.rstrip()}…"


def _wrap(sheet: Sheet, words: str, face: str, size: float, room: float, most: int) -> list[str]:
    """Break words into lines; the last one is cut where they do not all fit."""
    width = sheet.faces[face].width
    lines: list[str] = []
    rest = words.split()
    while rest and len(lines) < most:
        line = rest.pop(0)
        while rest and width(f"{line} {rest[0]}", size) <= room:
            line = f"{line} {rest.pop(0)}"
        lines.append(line)
    if rest and lines:
        lines[-1] = f"{lines[-1]} {' '.join(rest)}"
    return [_fit(sheet, line, face, size, room) for line in lines]
