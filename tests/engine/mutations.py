"""Damage print-outs in the ways that files get damaged, and say what must hold of what is read."""

import io
import random
import zipfile
from collections import Counter

from contractor.engine import layouts
from contractor.engine.layouts import limits, opening

SNIPPETS = (
    b",",
    b";",
    b"\t",
    b'"',
    b"|",
    b"\n",
    b"\r\n",
    b"\f",
    b"--",
    b"%",
    b"%/ft",
    b"dB/m",
    b"1,234.5",
    b"47",
    b"-0.3",
    b"\xe9",
    b"\xff\xfe",
    b"\x00",
    b"\x1b[1m",
    b"=1+1",
    b"NaN",
    b"1e400",
    b"9" * 40,
    b"1-001",
    b"01/02/03",
    b"n/a",
    b"Loop 2",
    b"Total",
    b"(",
    b"[",
    b"\xc2\xa0",
    "−½".encode(),
    b" " * 30,
    b"24:61",
)


def damaged_text(data: bytes, chance: random.Random) -> bytes:
    """Cut, double, swap, insert and overwrite bytes and lines."""
    out = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        place = chance.randrange(len(out) + 1)
        what = chance.randrange(8)
        if what == 0:
            out[place:place] = chance.choice(SNIPPETS)
        elif what == 1:
            del out[place : place + chance.randint(1, 60)]
        elif what == 2 and out:
            out[place % len(out)] = chance.randrange(256)
        elif what == 3:
            piece = out[place : place + chance.randint(1, 200)]
            other = chance.randrange(len(out) + 1)
            out[other:other] = piece
        elif what == 4:
            lines = bytes(out).split(b"\n")
            chance.shuffle(lines)
            out = bytearray(b"\n".join(lines))
        elif what == 5:
            lines = bytes(out).split(b"\n")
            lines.insert(chance.randrange(len(lines) + 1), chance.choice(lines))
            out = bytearray(b"\n".join(lines))
        elif what == 6:
            out = out[: chance.randrange(len(out) + 1)]
        else:
            out = bytearray(
                bytes(out).replace(chance.choice(SNIPPETS[:8]), chance.choice(SNIPPETS))
            )
    return bytes(out)


def damaged_workbook(data: bytes, chance: random.Random) -> bytes:
    """Damage the archive itself, or one part of it, packed again as if nothing were wrong."""
    if chance.random() < 0.3:
        return damaged_text(data, chance)
    packed = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as source,
        zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        names = source.namelist()
        victim = chance.choice([n for n in names if n.endswith(".xml")])
        for name in names:
            part = source.read(name)
            if name == victim:
                part = damaged_text(part, chance)
            if name != victim or chance.random() < 0.9:
                target.writestr(name, part)
    return packed.getvalue()


def check(data: bytes) -> str:
    """Read damaged bytes; answer "read" or "refused", or raise if what must hold does not."""
    try:
        printout = layouts.read(data)
    except layouts.Unreadable as error:
        sentence = str(error)
        if not sentence.endswith(".") or len(sentence) > 400:
            raise AssertionError(f"no sentence: {sentence}") from None
        return "refused"
    assert 0 < len(printout.rows) <= limits.MAX_ROWS
    assert len(printout.columns) <= limits.MAX_COLUMNS
    numbers = [row.number for row in printout.rows]
    # A line holds as many rows as tables stand side by side, and those are four at most.
    most = max(Counter(numbers).values())
    assert most <= 4 or printout.facts["sheets"], "a row came twice"
    if not opening.is_workbook(data):
        text = opening.decode(data).text
        lines = text.count("\n") + text.count("\r") + text.count("\f") + 1
        assert max(numbers) <= lines or printout.facts["aside"], "a row was invented"
        letters = "".join(text.split()).replace('"', "")
        escaped = printout.layout == "json" and "\\" in text  # "\\u00e9" is é
        for row in () if escaped else printout.rows:
            for cell in row.cells:
                for word in cell.split():
                    assert word.replace('"', "") in letters, f"{word!r} was invented"
    for row in printout.rows:
        for value in (row.setting, row.now, row.drift, row.used, row.limit, row.measured):
            assert value is None or value == value, "not a number"
    return "read"
