"""Bind composed sheets into a document of WeasyPrint: rows on its pages, tags in its tree.

The document holds an empty `<article id="leaf-…">` where each page of a sheet is to stand.
"""

import functools
import zlib
from typing import Any

import pydyf
from weasyprint.document import Page

from contractor.reports.sheets.composing import Composed, Leaf
from contractor.reports.sheets.output import write
from contractor.reports.sheets.shaping import Shaper
from contractor.reports.sheets.structure import Node

PREFIX = "leaf-"


class _After(dict[Any, Any]):
    """WeasyPrint numbers its marks by how many there are; these begin after ours."""

    def __init__(self, first: int) -> None:
        super().__init__()
        self._first = first

    def __len__(self) -> int:
        return self._first + super().__len__()

    def __bool__(self) -> bool:
        return super().__len__() > 0


class _Packed(pydyf.Object):
    """Operators, kept compressed until the page is written."""

    def __init__(self, packed: bytes) -> None:
        super().__init__()
        self._packed = packed

    @property
    def data(self) -> bytes:
        """Unpack the operators."""
        return zlib.decompress(self._packed)


class Bound:
    """A document of WeasyPrint with the sheets that are drawn into it."""

    def __init__(self, document: Any, sheets: list[Composed], shaper: Shaper) -> None:
        self.document, self.sheets, self.shaper = document, sheets, shaper
        document.fonts = shaper.fonts
        leaves = {
            f"{PREFIX}{sheet.key}-{at}": leaf
            for sheet in sheets
            for at, leaf in enumerate(sheet.leaves)
        }
        self._placed: dict[str, int] = {}
        for number, page in enumerate(document.pages):
            for key in _find_places(page):
                self._placed[key] = number
                self._prepare(page, leaves[key])
        if missing := set(leaves) - set(self._placed):
            raise RuntimeError(f"No page was laid out for {', '.join(sorted(missing)[:3])}.")

    def _prepare(self, page: Any, leaf: Leaf) -> None:
        left, top = self.shaper.left, self.shaper.top
        for level, label, y in leaf.headings:
            page.bookmarks.append((level, label, (left, top + y), "open"))
        page.paint = functools.partial(self._paint, page, _Packed(leaf.packed), len(leaf.marks))

    def _paint(self, page: Any, packed: _Packed, count: int, stream: Any, scale: float) -> None:
        stream._tags = _After(count)
        _share(self.shaper.resources, stream._resources["ColorSpace"])
        for kind in ("ExtGState", "XObject"):
            stream._resources[kind].update(self.shaper.resources[kind])
        stream.stream.append(packed)
        Page.paint(page, stream, scale)

    def write_pdf(self, *, variant: str, identifier: bytes) -> bytes:
        """Write the document, tagged."""
        data: bytes = self.document.write_pdf(
            finisher=functools.partial(self._finish, identifier),
            pdf_variant=variant,
            pdf_tags=True,
            pdf_identifier=identifier,
        )
        return data

    def _finish(self, identifier: bytes, _document: Any, pdf: Any) -> None:
        """Hang the trees of the sheets where their first page stands, and write in our way."""
        pages = pdf.page_references
        places = [
            thing for thing in pdf.objects if isinstance(thing, dict) and thing.get("S") == "/Art"
        ]
        # WeasyPrint walks its pages in order, so the places come in the order of the leaves.
        in_order = sorted(self._placed, key=lambda key: self._placed[key])
        elements = dict(zip(in_order, places, strict=True))
        numbers = pdf.objects[_number(pdf.catalog["StructTreeRoot"])]["ParentTree"]
        tree = pdf.objects[_number(numbers)]["Nums"]
        for sheet in self.sheets:
            keys = [f"{PREFIX}{sheet.key}-{at}" for at in range(len(sheet.leaves))]
            self._adopt(pdf, sheet, [elements[key] for key in keys])
            for node in sheet.root.walk():
                if isinstance(node.page, int):
                    node.page = pages[self._placed[keys[node.page]]]
            for key, leaf in zip(keys, sheet.leaves, strict=True):
                marks = tree[2 * self._placed[key] + 1]
                marks[:0] = [node.reference for node in leaf.marks]
        pdf.write = functools.partial(write, pdf, sealed=identifier)

    def _adopt(self, pdf: Any, sheet: Composed, elements: list[Any]) -> None:
        """Number a sheet's nodes; the first place holds them, the others leave the tree."""
        first, *others = elements
        for node in sheet.root.walk():
            if node is not sheet.root:
                pdf.add_object(node)
        root: Node = sheet.root
        root.number = first.number
        first["S"] = "/Sect"
        kids = root.kids if isinstance(root.kids, list) else [root.kids]
        first["K"] = pydyf.Array([kid.reference for kid in kids if isinstance(kid, Node)])
        for other in others:
            pdf.objects[_number(other["P"])]["K"].remove(other.reference)
            other["S"] = "/NonStruct"


def _share(resources: Any, colours: bytes) -> None:
    """Give every group that was drawn for the sheets the colour spaces of the document."""
    resources["ColorSpace"] = colours
    for group in resources["XObject"].values():
        if group.extra["Resources"]["ColorSpace"] != colours:
            _share(group.extra["Resources"], colours)


def _find_places(page: Any) -> list[str]:
    found = []
    for box in page._page_box.descendants():
        if box.element is None or box.element.tag != "article":
            continue
        key = box.element.get("id", "")
        if key.startswith(PREFIX) and key not in found:
            found.append(key)
    return found


def _number(reference: bytes) -> int:
    return int(reference.split()[0])
