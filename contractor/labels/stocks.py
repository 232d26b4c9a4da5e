"""Sizes of labels that paper mills sell: sheets in A4 and Letter, and rolls. All in millimetres.

Generic dimensions; common practice, no source. Whoever has other sheets adds a line here.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Stock:
    """One size: its page, how labels lie on it, how large each is [mm]."""

    key: str
    name: str
    page_width: float
    page_height: float
    width: float
    height: float
    columns: int = 1
    rows: int = 1
    left: float = 0.0
    top: float = 0.0
    gap: float = 0.0  # between columns

    @property
    def per_page(self) -> int:
        """How many labels lie on a page."""
        return self.columns * self.rows

    def place(self, position: int) -> tuple[int, float, float]:
        """Give the page and the upper left corner of a label; positions count from 0 [mm]."""
        page, at = divmod(position, self.per_page)
        row, column = divmod(at, self.columns)
        return (
            page,
            self.left + column * (self.width + self.gap),
            self.top + row * self.height,
        )


_A4 = (210.0, 297.0)
_LETTER = (215.9, 279.4)


def _sheet(
    key: str,
    name: str,
    page: tuple[float, float],
    size: tuple[float, float],
    many: tuple[int, int],
    gap: float = 0.0,
) -> Stock:
    """Lay labels out in the middle of a page."""
    columns, rows = many
    left = (page[0] - columns * size[0] - (columns - 1) * gap) / 2
    top = (page[1] - rows * size[1]) / 2
    return Stock(key, name, *page, *size, columns, rows, left, top, gap)


def _roll(key: str, name: str, width: float, height: float) -> Stock:
    """Give a roll: each label is a page of its own."""
    return Stock(key, name, width, height, width, height)


STOCKS = {
    one.key: one
    for one in (
        _sheet("a4-24", "A4, 24 labels of 70 × 37 mm", _A4, (70.0, 37.0), (3, 8)),
        _sheet("a4-40", "A4, 40 labels of 48.5 × 25.4 mm", _A4, (48.5, 25.4), (4, 10)),
        _sheet("a4-65", "A4, 65 labels of 38.1 × 21.2 mm", _A4, (38.1, 21.2), (5, 13), 2.5),
        _sheet("letter-20", "Letter, 20 labels of 4 × 1 in", _LETTER, (101.6, 25.4), (2, 10), 4.8),
        _sheet(
            "letter-30", "Letter, 30 labels of 2⅝ × 1 in", _LETTER, (66.675, 25.4), (3, 10), 3.175
        ),
        _sheet("letter-12", "Letter, 12 labels of 2 × 2 in", _LETTER, (50.8, 50.8), (3, 4), 15.875),
        _roll("roll-25", "Roll, 25 × 25 mm", 25.0, 25.0),
        _roll("roll-50", "Roll, 50 × 25 mm", 50.0, 25.0),
        _roll("roll-1x2", "Roll, 2 × 1 in", 50.8, 25.4),
    )
}
