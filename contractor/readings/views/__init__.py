"""Pages of the readings area."""

from contractor.readings.views.by_itself import by_itself, make_secret, revoke_secret
from contractor.readings.views.intakes import (
    accept,
    intake,
    meanings,
    original,
    problems,
    put_aside,
    row,
    take_in,
    undo,
)

__all__ = [
    "accept",
    "by_itself",
    "intake",
    "make_secret",
    "meanings",
    "original",
    "problems",
    "put_aside",
    "revoke_secret",
    "row",
    "take_in",
    "undo",
]
