"""Read drawings back: what stands where."""

from xml.etree import ElementTree

SPACE = "{http://www.w3.org/2000/svg}"


class Drawn:
    """A drawing as a tree, with places as shares of the axis."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.root = ElementTree.fromstring(text)
        for node in self.root.iter():
            node.tag = node.tag.removeprefix(SPACE)

    def find(self, tag: str, *classes: str) -> list[ElementTree.Element]:
        """Find elements of a tag that have all of some classes."""
        return [
            node
            for node in self.root.iter(tag)
            if set(classes) <= set(node.get("class", "").split())
        ]

    @property
    def title(self) -> str:
        """The drawing in words."""
        return next(self.root.iter("title")).text or ""

    def words(self, tier: str = "") -> list[str]:
        """All words that a column of some tier shows, from left to right."""
        hidden = {"grand", "roomy", "mid", "small"} - {tier}
        texts = [
            node
            for node in self.root.iter("text")
            if not hidden & set(node.get("class", "").split())
        ]
        return [
            "".join(node.itertext()) for node in sorted(texts, key=lambda node: place(node, "x"))
        ]


def place(node: ElementTree.Element, key: str) -> float:
    """A place on a fluid axis [%], or on a fixed one [px]."""
    return float(node.get(key, "nan").removesuffix("%"))
