"""Tell when a file looks like another system's print-out."""

from collections.abc import Callable, Iterable, Mapping
from uuid import UUID

from contractor.engine.layouts import same_address
from contractor.readings.services.matching import Matched
from contractor.register.models import Building, System


def find_mix_up(
    *,
    rows: list[Matched],
    system: System,
    building: Building,
    stated: str,
    names: Callable[[], Iterable[str]],
    others: Callable[[], Mapping[UUID, tuple[str, set[str]]]],
) -> str:
    """Say whether this looks like another system's print-out; empty where it does not.

    names gives the firm's other buildings; others gives, per other system of the firm, its
    building and its devices' addresses and labels in the form `address|label`. Both are asked only
    where few of this system's own fit.
    """
    known = [row for row in rows if row.device is not None]
    listed = len(rows)
    if stated and stated.casefold() not in f"{building.name} {system.name}".casefold():
        hit = next((name for name in names() if stated.casefold() in name.casefold()), "")
        if hit:
            return f"The file names {stated}. Is this the print-out of {building.name}?"
    labelled = [
        (row.said["label"], row.device.label)
        for row in known
        if row.device is not None and row.said["label"] and row.device.label
    ]
    alike = sum(printed.casefold() == ours.casefold() for printed, ours in labelled)
    mostly_strange = len(labelled) >= 5 and alike < 0.3 * len(labelled)
    few_known = listed >= 5 and len(known) < 0.5 * listed
    if not (mostly_strange or few_known):
        return ""
    keys = {
        f"{same_address(row.said['address'])}|{(row.said['label'] or '').casefold()}"
        for row in rows
        if row.said["address"]
    }
    best, hits = "", 0
    for name, theirs in others().values():
        if (found := len(keys & theirs)) > hits:
            best, hits = name, found
    own = alike if mostly_strange and not few_known else len(known)
    what = "addresses and labels" if mostly_strange and not few_known else "addresses"
    if hits > max(alike, 4):
        return (
            f"Only {own} of {listed} {what} are on the list of {building.name}; "
            f"{hits} match {best}. Is this the right building's print-out?"
        )
    if mostly_strange:
        return (
            f"{f'Only {alike}' if alike else 'None'} of {len(labelled)} labels"
            f" are those of {building.name}. "
            "Is this the right building's print-out?"
        )
    return ""
