"""Tell which device a code names, from everything that was said of it, in whatever order it came.

A binding replaces those that its author had seen. Two that do not know of each other and name
different devices leave the code without a device until a person decides.
"""

from collections.abc import Hashable, Iterable
from dataclasses import dataclass

from contractor.engine.folding import Statement, heads


@dataclass(frozen=True, slots=True)
class Bound:
    """One binding: the device it names, None where the code hangs on nothing any more."""

    id: Hashable
    device: Hashable | None
    replaces: frozenset[Hashable] = frozenset()


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands of one code: the bindings nobody replaced, and the device where all agree."""

    heads: tuple[Bound, ...]
    device: Hashable | None
    is_disputed: bool


def stand(*, bindings: Iterable[Bound]) -> Standing:
    """Find out what stands of the bindings of one code.

    Parameters
    ----------
    bindings : all that was said of one code, in any order, also repeated

    Source: own rules; those of `folding.heads`, with the code as the thing that is spoken of.

    >>> a, b = Bound("a", "d1"), Bound("b", "d2")
    >>> stand(bindings=[a, b]).is_disputed
    True
    >>> stand(bindings=[Bound("c", "d2", frozenset("ab")), b, a]).device
    'd2'
    """
    known = {one.id: one for one in bindings}
    standing = heads(
        statements=[
            Statement(one.id, "code", "label", "", supersedes=one.replaces)
            for one in known.values()
        ]
    )
    found = tuple(known[one.id] for one in standing)
    named = {one.device for one in found}
    is_disputed = len(named) > 1
    return Standing(found, None if is_disputed or not named else named.pop(), is_disputed)
