"""Writes of the labels area."""

from contractor.labels.services.binding import (
    UnableToBind,
    bind,
    retire,
    settle_dispute,
    take_binding,
    take_off,
)
from contractor.labels.services.printing import (
    MOST_LABELS,
    UnableToPrint,
    draw_run,
    print_again,
    print_labels,
)

__all__ = [
    "MOST_LABELS",
    "UnableToBind",
    "UnableToPrint",
    "bind",
    "draw_run",
    "print_again",
    "print_labels",
    "retire",
    "settle_dispute",
    "take_binding",
    "take_off",
]
