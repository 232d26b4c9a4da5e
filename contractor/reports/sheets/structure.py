"""The tree of tags of a sheet, small enough for a hundred thousand cells."""

from collections.abc import Iterator
from html import unescape


class Node:
    """One structure element (ISO 32000-1, 14.7.2); pydyf writes it as an object of its own."""

    __slots__ = (
        "box",
        "kids",
        "number",
        "offset",
        "page",
        "parent",
        "said",
        "scope",
        "span",
        "tag",
    )
    generation = 0
    free = "n"
    compressible = True

    def __init__(
        self,
        tag: str,
        parent: "Node | None",
        *,
        scope: str = "",
        span: int = 1,
        said: str = "",
        box: tuple[float, float, float, float] | None = None,
    ) -> None:
        self.tag, self.parent = tag, parent
        self.scope, self.span, self.said, self.box = scope, span, said, box
        self.kids: Node | list[Node] | int | None = None
        self.page: int | bytes | None = None
        self.number, self.offset = 0, 0

    def add(self, node: "Node") -> "Node":
        """Hang a node under this one."""
        if self.kids is None:
            self.kids = node
        elif isinstance(self.kids, list):
            self.kids.append(node)
        elif isinstance(self.kids, Node):
            self.kids = [self.kids, node]
        return node

    def hold(self, leaf: int, mcid: int) -> None:
        """Hold marked content of a leaf."""
        self.page, self.kids = leaf, mcid

    def walk(self) -> "Iterator[Node]":
        """Give this node and all below it, in reading order."""
        yield self
        if isinstance(self.kids, Node):
            yield from self.kids.walk()
        elif isinstance(self.kids, list):
            for kid in self.kids:
                yield from kid.walk()

    @property
    def reference(self) -> bytes:
        """Name this object in others."""
        return b"%d 0 R" % self.number

    @property
    def data(self) -> bytes:
        """Write the element."""
        parts = [b"<</Type/StructElem/S/%b/P %b" % (self.tag.encode(), self.above)]
        if isinstance(self.page, bytes):
            parts.append(b"/Pg %b" % self.page)
        if isinstance(self.kids, int):
            parts.append(b"/K %d" % self.kids)
        elif isinstance(self.kids, Node):
            parts.append(b"/K %b" % self.kids.reference)
        else:
            parts.append(b"/K[%b]" % b" ".join(kid.reference for kid in self.kids or []))
        if self.scope:
            parts.append(b"/A<</O/Table/Scope/%b>>" % self.scope.encode())
        if self.span > 1:
            parts.append(b"/A<</O/Table/ColSpan %d>>" % self.span)
        if self.said:
            text = ("\ufeff" + unescape(self.said)).encode("utf-16-be").hex().encode()
            parts.append(b"/Alt<%b>" % text)
        if self.box:
            parts.append(b"/A<</O/Layout/BBox[%.2f %.2f %.2f %.2f]>>" % self.box)
        return b"".join(parts) + b">>"

    @property
    def above(self) -> bytes:
        """Name the element above this one."""
        return self.parent.reference if self.parent else b"null"
