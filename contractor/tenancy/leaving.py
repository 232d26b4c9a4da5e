"""What ends when a member leaves: each area says what it holds of a member, and ends it.

An area registers in its AppConfig.ready; so leaving is one action, and a new thing that opens
doors cannot be forgotten by a page that lies below it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from contractor.tenancy.models import Member


@dataclass(frozen=True)
class Leaving:
    """Who leaves, to whom their work goes, who says so, and when."""

    member: Member
    heir: Member | None
    by: Member
    now: datetime


@dataclass(frozen=True)
class Ending:
    """One kind of thing that ends with a seat."""

    words: str  # "sign-ins ended"
    tell: Callable[[Member], list[str]]  # what there is, in words
    end: Callable[[Leaving], int]  # how many were ended


_endings: dict[str, Ending] = {}


def register(key: str, ending: Ending) -> None:
    """Say what else ends with a seat."""
    _endings[key] = ending


def list_endings() -> list[Ending]:
    """List all that ends with a seat, in the order in which areas stand."""
    return list(_endings.values())
