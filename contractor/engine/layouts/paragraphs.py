"""Cut text in which each detector has a paragraph of its own."""

from __future__ import annotations

from collections.abc import Sequence

from contractor.engine.layouts.grids import Grid


def grid(lines: Sequence[str]) -> Grid | None:
    """Cut paragraphs into one line of cells per detector."""
    return None
