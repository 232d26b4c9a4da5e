"""Keep words in a drawing apart: choose the longest layout that fits a column of some width.

A fluid drawing does not know its width, so it carries one layout for each of four tiers, and the
page's style shows the one that fits. A fixed drawing carries one.
"""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from contractor.web.charts.pen import Scale, text_width

# The narrowest column of each tier. [px]
TIERS = {"grand": 1060.0, "roomy": 900.0, "mid": 620.0, "small": 288.0}


@dataclass(frozen=True, kw_only=True)
class Label:
    """Words at a value; `row` 0 is the lowest, `lean` -1 ends there, 0 is centred, 1 begins."""

    value: float
    text: str
    tone: str = "ink"
    size: float = 16
    lean: int = 0
    row: int = 0
    gap: float = 8  # between the value and words that lean [px]
    bold: bool = True

    @property
    def anchor(self) -> str:
        """Which end of the words stands at the value."""
        return {-1: "end", 0: "middle", 1: "start"}[self.lean]

    def span(self, scale: Scale, width: float) -> tuple[float, float]:
        """Where the words begin and end in a column. [px]"""
        at = scale.share(self.value) * width
        wide = text_width(self.text, self.size)
        if self.lean == 0:
            return at - wide / 2, at + wide / 2
        return (
            (at + self.gap, at + self.gap + wide)
            if self.lean > 0
            else (
                at - self.gap - wide,
                at - self.gap,
            )
        )


def tiers(scale: Scale) -> Iterator[tuple[str, float]]:
    """List the layouts that a drawing needs: name of the tier, width to fit."""
    if scale.width is not None:
        yield "", scale.width
        return
    yield from TIERS.items()


def fits(labels: Sequence[Label], scale: Scale, width: float, *, spare: float = 8) -> bool:
    """Whether no two labels of a row touch, and none runs out of the column."""
    spans = [(label.row, *label.span(scale, width)) for label in labels]
    if any(start < -spare or end > width + spare for _, start, end in spans):
        return False
    rows = sorted(spans)
    return all(
        one[0] != two[0] or one[2] + spare <= two[1] for one, two in itertools.pairwise(rows)
    )


def held(label: Label, scale: Scale, width: float) -> Label:
    """Turn a label round if it runs out of the column."""
    start, end = label.span(scale, width)
    if start < 0:
        return replace(label, lean=1)
    if end > width:
        return replace(label, lean=-1)
    return label


def write(label: Label, scale: Scale, *, y: float, tier: str, face: str = "text") -> str:
    """Write a label in its tier."""
    return scale.words(
        label.value,
        y,
        label.text,
        size=label.size,
        bold=label.bold,
        tone=label.tone,
        face=face,
        anchor=label.anchor,
        dx=label.lean * label.gap if label.lean else None,
        tier=tier,
    )
