"""Shape words and drawings into PDF operators, once each, by WeasyPrint's own engine."""

import re
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import pydyf
from weasyprint import HTML
from weasyprint.draw.text import draw_emojis, draw_first_line
from weasyprint.images import SVGImage
from weasyprint.matrix import Matrix
from weasyprint.pdf.stream import Stream
from weasyprint.text.fonts import FontConfiguration
from weasyprint.text.line_break import split_first_line, strut

#: What a drawing sets although it is so already; without it a bar is half as long.
_IDLE = {"/a1.0 gs", "/A1.0 gs", "[] 0 d", "0 J", "0 j", "4 M", "1 0 0 1 0 0 cm"}
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
#: Most texts that are remembered; labels and addresses differ from row to row.
_MOST = 4000


@dataclass(frozen=True, slots=True)
class Shaped:
    """One line of words: its operators, from its own origin on, and its width [px]."""

    operators: bytes
    width: float
    pictures: bytes = b""  # coloured emoji, drawn after the words


@dataclass(frozen=True, slots=True)
class Face:
    """How the words of one kind are set: read from paper.css."""

    style: Any
    leading: float  # [px]
    baseline: float  # from the top of its line [px]


class _Recorder(Stream):
    """A stream whose groups are named apart from those of the pages they are drawn on."""

    def add_group(self, x: float, y: float, width: float, height: float) -> Any:
        """Add a group under a name of its own."""
        group = super().add_group(x, y, width, height)
        del self._resources["XObject"][group.id]
        group.id = f"sheet{len(self._resources['XObject'])}"
        self._resources["XObject"][group.id] = group
        return group


class Shaper:
    """Shape what stands in a sheet. One for a document: fonts are shared with its pages."""

    def __init__(self, *, html: str, base_url: str, fetcher: Any) -> None:
        """Read faces and page from a specimen: one element for each face, `data-face` its key."""
        self.font_config = FontConfiguration()
        document = HTML(string=html, base_url=base_url, url_fetcher=fetcher).render(
            font_config=self.font_config
        )
        self.fonts: dict[Any, Any] = {}
        self.resources = pydyf.Dictionary(
            {
                "ExtGState": pydyf.Dictionary(),
                "XObject": pydyf.Dictionary(),
                "Pattern": pydyf.Dictionary(),
                "Shading": pydyf.Dictionary(),
                "ColorSpace": b"",
            }
        )
        box = document.pages[0]._page_box
        self.left, self.top = box.content_box_x(), box.content_box_y()
        self.width, self.height = box.width, box.height
        self.faces: dict[str, Face] = {}
        for found in box.descendants():
            key = found.element is not None and found.element.get("data-face")
            if key and key not in self.faces:
                leading, baseline = strut(found.style)
                self.faces[key] = Face(found.style, leading, baseline)
        self._stream = self._new_stream()
        self._lines: dict[tuple[str, str, float, float], tuple[Shaped, ...]] = {}
        self._drawings: dict[str, bytes] = {}

    def _new_stream(self) -> Any:
        size = (0, 0, self.width, self.height)
        return _Recorder(self.fonts, size, self.resources, {}, None, {}, None)

    def shape(
        self, text: str, face: str, width: float, *, indent: float = 0.0
    ) -> tuple[Shaped, ...]:
        """Break a text into lines of a width; the first is shorter by the indent. [px]"""
        key = (text, face, width, indent)
        known = self._lines.get(key)
        if known is None:
            if len(self._lines) > _MOST:
                self._lines.clear()
            known = self._lines[key] = tuple(self._break(text, face, width, indent))
        return known

    def _break(self, text: str, face: str, width: float, indent: float) -> Any:
        # As HTML does: runs of white space are one space. Controls print nothing.
        rest = " ".join(_CONTROL.sub("", text).split())
        style = self.faces[face].style
        room = width - indent
        while rest:
            if indent and room < width and self._too_long(rest, style, room):
                # The first word does not fit beside the shape: it goes below.
                yield Shaped(b"", 0.0)
                room, indent = width, 0.0
                continue
            layout, _, resume, wide, *_ = split_first_line(rest, style, None, room, 0)
            operators, pictures = self._record(layout, style)
            yield Shaped(operators, wide, pictures)
            rest = "" if resume is None else rest.encode()[resume:].decode().lstrip(" ")
            room = width

    def _too_long(self, text: str, style: Any, room: float) -> bool:
        word = text.split(" ", 1)[0]
        return split_first_line(word, style, None, None, 0)[3] > room

    def _record(self, layout: Any, style: Any) -> tuple[bytes, bytes]:
        stream = self._stream
        stream.stream.clear()
        stream._current_font = None
        layout.reactivate(style)
        box = SimpleNamespace(text=layout.text, style=style, pango_layout=layout, baseline=0)
        emojis = draw_first_line(stream, box, "clip", "none", Matrix())
        layout.deactivate()
        operators = _join(stream.stream[1:])  # without the place, which is each line's own
        stream.stream.clear()
        draw_emojis(stream, style, 0, 0, emojis)
        return operators, _join(stream.stream)

    def draw(self, svg: str, *, width: float, height: float) -> bytes:
        """Draw a fixed SVG of web/charts or a glyph, from its own upper left corner on."""
        known = self._drawings.get(svg)
        if known is None:
            if len(self._drawings) > _MOST:
                self._drawings.clear()
            known = self._drawings[svg] = self._draw(svg, width, height)
        return known

    def _draw(self, svg: str, width: float, height: float) -> bytes:
        if "xmlns=" not in svg[:200]:
            svg = svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1)
        stream = self._new_stream()
        tree = ElementTree.fromstring(svg)
        image = SVGImage(tree, "driftbook:/", None, SimpleNamespace(font_config=self.font_config))
        image.draw(stream, width, height, None)
        lines = _join(stream.stream).decode().split("\n")
        return "\n".join(line for line in lines if line not in _IDLE).encode()


def _join(parts: list[Any]) -> bytes:
    return b"\n".join(pydyf._to_bytes(part) for part in parts)
