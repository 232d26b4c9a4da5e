"""Write vector PDF: filled squares, lines, and text in our own faces, placed to the millimetre.

Nothing is laid out by flow, so that what is asked for at 12.7 mm stands at 12.7 mm.
"""

import io
import unicodedata
import zlib
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

MM = 72 / 25.4
_FONTS = Path(__file__).resolve().parents[2] / "static" / "vendor" / "fonts"
_FACES = {
    "text": ("atkinson-hyperlegible-next", 500),
    "strong": ("atkinson-hyperlegible-next", 750),
    "code": ("atkinson-hyperlegible-mono", 600),
}

#: Letters that no accent makes out of a plain one.
_NEAREST = str.maketrans("ŁłĐđıØø", "LlDdiOo")


@cache
def _font(face: str) -> bytes:
    """Cut one weight out of a variable face."""
    name, weight = _FACES[face]
    font = TTFont(_FONTS / f"{name}.woff2", recalcTimestamp=False)
    instancer.instantiateVariableFont(font, {"wght": weight}, inplace=True)
    font.flavor = None
    out = io.BytesIO()
    font.save(out)
    return out.getvalue()


class Face:
    """One face: how wide its words are, and which of its shapes were used."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.font = TTFont(io.BytesIO(_font(name)))
        self.map = self.font.getBestCmap()
        self.order = {name: number for number, name in enumerate(self.font.getGlyphOrder())}
        self.per_em = self.font["head"].unitsPerEm
        self.used: dict[int, str] = {}

    def shapes(self, text: str) -> list[int]:
        """List the numbers of the shapes of a text; what the face lacks is written plainly or ?."""
        found = []
        for character in text:
            for one in self._plain(character):
                glyph = self.order[self.map[ord(one)]]
                self.used[glyph] = one
                found.append(glyph)
        return found

    def _plain(self, character: str) -> str:
        if ord(character) in self.map:
            return character
        parts = unicodedata.normalize("NFKD", character.translate(_NEAREST))
        plain = "".join(
            one for one in parts if ord(one) in self.map and not unicodedata.combining(one)
        )
        return plain or "?"

    def width(self, text: str, size: float) -> float:
        """Measure a text [mm] at a size [mm]."""
        widths = self.font["hmtx"]
        order = self.font.getGlyphOrder()
        return sum(widths[order[glyph]][0] for glyph in self.shapes(text)) * size / self.per_em


class Sheet:
    """A document being drawn; places are millimetres from the upper left corner of a page."""

    def __init__(self, *, title: str) -> None:
        self.title = title
        self.faces = {name: Face(name) for name in _FACES}
        self.pages: list[tuple[float, float, list[str]]] = []

    def page(self, width: float, height: float) -> None:
        """Begin a page."""
        self.pages.append((width, height, []))

    def _down(self, y: float) -> float:
        return (self.pages[-1][1] - y) * MM

    def squares(self, rows: Iterable[Iterable[object]], x: float, y: float, module: float) -> None:
        """Fill the dark squares of a grid, run by run, in one path."""
        out = self.pages[-1][2]
        for at, row in enumerate(rows):
            cells = [bool(cell) for cell in row]
            start = None
            for column, dark in enumerate([*cells, False]):
                if dark and start is None:
                    start = column
                elif not dark and start is not None:
                    left, wide = (x + start * module) * MM, (column - start) * module * MM
                    foot = self._down(y + (at + 1) * module)
                    out.append(f"{left:.4f} {foot:.4f} {wide:.4f} {module * MM:.4f} re")
                    start = None
        out.append("f")

    def line(self, x: float, y: float, width: float, weight: float = 0.2) -> None:
        """Draw a line to the right."""
        down = self._down(y)
        self.pages[-1][2].append(
            f"{weight * MM:.3f} w {x * MM:.3f} {down:.3f} m {(x + width) * MM:.3f} {down:.3f} l S"
        )

    def text(self, words: str, x: float, y: float, size: float, face: str = "text") -> None:
        """Write words from their left end on a base line; the size is the em [mm]."""
        shapes = "".join(f"{glyph:04x}" for glyph in self.faces[face].shapes(words))
        self.pages[-1][2].append(
            f"BT /{face} {size * MM:.3f} Tf {x * MM:.3f} {self._down(y):.3f} Td <{shapes}> Tj ET"
        )

    def finish(self) -> bytes:
        """Write the document; the same drawing gives the same bytes."""
        objects: list[bytes] = [b"", b""]

        def add(body: bytes) -> int:
            objects.append(body)
            return len(objects)

        def stream(data: bytes, more: str = "") -> int:
            packed = zlib.compress(data)
            return add(
                f"<</Length {len(packed)}/Filter/FlateDecode{more}>>stream\n".encode()
                + packed
                + b"\nendstream"
            )

        used = {name: face for name, face in self.faces.items() if face.used}
        fonts = "".join(f"/{name} {_embed(face, add, stream)} 0 R" for name, face in used.items())
        kids = []
        for width, height, out in self.pages:
            body = stream("\n".join(out).encode())
            kids.append(
                add(
                    f"<</Type/Page/Parent 2 0 R/MediaBox[0 0 {width * MM:.4f} {height * MM:.4f}]"
                    f"/Resources<</Font<<{fonts}>>>>/Contents {body} 0 R>>".encode()
                )
            )
        title = ("\ufeff" + self.title).encode("utf-16-be").hex()
        about = add(f"<</Title<{title}>/Creator(Driftbook)>>".encode())
        # Printed larger or smaller, labels would miss their paper.
        objects[0] = (
            b"<</Type/Catalog/Pages 2 0 R/Lang(en)"
            b"/ViewerPreferences<</PrintScaling/None/DisplayDocTitle true>>>>"
        )
        listed = " ".join(f"{kid} 0 R" for kid in kids)
        objects[1] = f"<</Type/Pages/Count {len(kids)}/Kids[{listed}]>>".encode()
        return _write(objects, about)


def _embed(face: Face, add, stream) -> int:  # type: ignore[no-untyped-def]
    """Embed the shapes that were used, under the numbers they have."""
    font = TTFont(io.BytesIO(_font(face.name)), recalcTimestamp=False)
    options = subset.Options()
    options.retain_gids = True
    options.drop_tables += ["GSUB", "GPOS", "GDEF", "STAT", "name", "post", "OS/2"]
    cut = subset.Subsetter(options)
    order = font.getGlyphOrder()
    cut.populate(glyphs=[order[glyph] for glyph in face.used])
    cut.subset(font)
    out = io.BytesIO()
    font.save(out)
    data = out.getvalue()
    name = f"{_FACES[face.name][0].title().replace('-', '')}-{_FACES[face.name][1]}"
    scale = 1000 / face.per_em
    head, hhea = face.font["head"], face.font["hhea"]
    file = stream(data, f"/Length1 {len(data)}")
    box = " ".join(f"{value * scale:.0f}" for value in (head.xMin, head.yMin, head.xMax, head.yMax))
    described = add(
        f"<</Type/FontDescriptor/FontName/{name}/Flags 4/FontBBox[{box}]/ItalicAngle 0"
        f"/Ascent {hhea.ascent * scale:.0f}/Descent {hhea.descent * scale:.0f}"
        f"/CapHeight 700/StemV 80/FontFile2 {file} 0 R>>".encode()
    )
    metrics, names = face.font["hmtx"], face.font.getGlyphOrder()
    widths = "".join(
        f"{glyph}[{metrics[names[glyph]][0] * scale:.0f}]" for glyph in sorted(face.used)
    )
    below = add(
        f"<</Type/Font/Subtype/CIDFontType2/BaseFont/{name}/CIDToGIDMap/Identity"
        f"/CIDSystemInfo<</Registry(Adobe)/Ordering(Identity)/Supplement 0>>"
        f"/FontDescriptor {described} 0 R/W[{widths}]>>".encode()
    )
    lines = "\n".join(
        f"<{glyph:04x}> <{one.encode('utf-16-be').hex()}>"
        for glyph, one in sorted(face.used.items())
    )
    unicode = stream(
        (
            "/CIDInit /ProcSet findresource begin 12 dict begin begincmap /CMapName /Ours def"
            " /CMapType 2 def 1 begincodespacerange <0000> <ffff> endcodespacerange\n"
            f"{len(face.used)} beginbfchar\n{lines}\nendbfchar endcmap end end"
        ).encode()
    )
    return add(
        f"<</Type/Font/Subtype/Type0/BaseFont/{name}/Encoding/Identity-H"
        f"/DescendantFonts[{below} 0 R]/ToUnicode {unicode} 0 R>>".encode()
    )


def _write(objects: list[bytes], about: int) -> bytes:
    out = io.BytesIO()
    out.write(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")
    places = []
    for number, body in enumerate(objects, start=1):
        places.append(out.tell())
        out.write(b"%d 0 obj\n%b\nendobj\n" % (number, body))
    start = out.tell()
    out.write(b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1))
    for place in places:
        out.write(b"%010d 00000 n \n" % place)
    out.write(
        b"trailer\n<</Size %d/Root 1 0 R/Info %d 0 R>>\nstartxref\n%d\n%%%%EOF\n"
        % (len(objects) + 1, about, start)
    )
    return out.getvalue()
