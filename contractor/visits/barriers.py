"""What stands in the way of signing a visit off, as far as areas above this one know.

An area that stands above registers a question here when it starts: imports point downwards only.
"""

from collections.abc import Callable

from contractor.visits.models import Visit

Ask = Callable[[Visit], list[str]]
_asked: dict[str, Ask] = {}


def register(name: str, ask: Ask) -> None:
    """Have a question asked before every sign-off; its answer is a list of sentences."""
    _asked[name] = ask


def list_barriers(visit: Visit) -> list[str]:
    """List, in sentences, what the other areas still wait for."""
    return [sentence for ask in _asked.values() for sentence in ask(visit)]
