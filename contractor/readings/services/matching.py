"""Match the rows of a print-out to the devices on the list, and say what differs."""

import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple, Self
from uuid import UUID

from contractor.engine import layouts, sensitivity, typed
from contractor.readings.models import RowOutcome
from contractor.readings.services.judging import Evidence, Marks, Terms, judge_many, terms_of
from contractor.register.models import (
    SENSITIVE_KINDS,
    Building,
    Device,
    Kind,
    Product,
    System,
    VerdictState,
)

#: What the engine calls a kind, and what the register calls it.
KINDS = {
    "smoke": Kind.SMOKE,
    "heat": Kind.HEAT,
    "smoke+heat": Kind.SMOKE_HEAT,
    "other": Kind.OTHER,
}
#: Quantities of a row that a member may correct. [%/ft]; used is a share.
QUANTITIES = (
    "setting",
    "measured",
    "drift",
    "used",
    "limit",
    "now",
    "marked_low",
    "marked_high",
)
#: What of a row is kept with it, as the engine names it.
KEPT = ("address", "label", "kind", *QUANTITIES, "control_unit_says", "as_left", "area", "product")
#: What a member can answer in a row's form.
ANSWERABLE = {"address", "label", "taken_on", *QUANTITIES}
#: Where a column's cell stands after it was understood, if not under its own name.
_STANDS_AS = {
    "setting_day": "setting",
    "setting_night": "setting",
    "remaining": "used",
    "marked_range": "marked_low",
    "loop": "address",
    "number": "address",
    "panel": "address",
    "date": "taken_on",
}
#: What the engine says of a whole row is found anew here, since corrections change it.
_FOUND_ANEW = re.compile(
    r"has no address|cannot be|is negative|is above the upper|is printed (twice|\d+ times)"
)
#: A fall of the drift by more than this share of the limit looks like a cleaning.
FALL_SHARE = 0.25
FALL_LEAST = 0.1  # [%/ft]
LABEL_ROOM = 160
_ADDRESS_ROOM = 40
_NEAR = 0.0005  # settings and marks are kept to three places [%/ft]


def same_address(address: str) -> str:
    """Write an address the same way whatever its case, spaces and leading zeros.

    >>> same_address("l1 d014"), same_address("L01D14"), same_address("1-014")
    ('l1d14', 'l1d14', '1-14')
    """
    return re.sub(r"0*(\d+)", r"\1", re.sub(r"\s+", "", address).casefold())


@dataclass
class Printed:
    """One row of a file: as understood, as corrected, and what was found of it last time."""

    number: int
    understood: dict[str, Any]
    corrected: dict[str, Any] = field(default_factory=dict)
    is_left_out: bool = False
    pk: UUID | None = None
    outcome: str = ""
    differs: list[str] = field(default_factory=list)
    device_id: UUID | None = None
    verdict: str = ""

    @property
    def said(self) -> dict[str, Any]:
        """What counts of the row: as understood, then as corrected."""
        return said_of(self.understood, self.corrected)


def said_of(understood: Mapping[str, Any], corrected: Mapping[str, Any]) -> dict[str, Any]:
    """Give each thing that is kept of a row, None where it is not known."""
    said = {name: understood.get(name) for name in (*KEPT, "taken_on")}
    return said | {name: value for name, value in corrected.items() if name in said}


def keep_row(
    *, row: layouts.Row, problems: Iterable[layouts.Problem], meanings: Mapping[int, str]
) -> dict[str, Any]:
    """Give what is kept of a row as understood, with what could not be read of it.

    problems: those of this row. meanings: what each column was read as.
    """
    kept: dict[str, Any] = {"line": row.number}
    open_problems = []
    for problem in problems:
        if problem.column is not None:
            meaning = meanings.get(problem.column, "")
            open_problems.append([_STANDS_AS.get(meaning, meaning), problem.sentence])
        elif not _FOUND_ANEW.search(problem.sentence):
            open_problems.append(["", problem.sentence])
    for name in KEPT:
        value = getattr(row, name)
        if isinstance(value, float) and not math.isfinite(value):
            open_problems.append([name, f"What is printed as {name} is no smoke density."])
        elif value is not None and value != "":
            kept[name] = value
    if row.taken_on is not None:
        kept["taken_on"] = row.taken_on.isoformat()
    return kept | {"problems": open_problems}


class Listed(NamedTuple):
    """What of a device on the list a row is compared with."""

    pk: UUID
    address: str
    label: str
    kind: str
    setting: float | None
    product_id: UUID | None
    latest_drift: float | None
    latest_limit: float | None


@dataclass
class DeviceList:
    """The devices of one system, found by address, and the products they are of."""

    products: dict[UUID, Product] = field(default_factory=dict)
    marks: dict[UUID | None, Marks] = field(default_factory=dict)
    usual: dict[str, UUID] = field(default_factory=dict)  # commonest product of each kind
    named: dict[str, UUID] = field(default_factory=dict)
    by_address: dict[str, Listed] = field(default_factory=dict)
    by_same: dict[str, list[Listed]] = field(default_factory=dict)

    @classmethod
    def of(cls, system: System) -> Self:
        """Read a system's list as it is now."""
        made = cls(products={p.pk: p for p in Product.objects.filter(firm_id=system.firm_id)})
        made.marks = {None: Marks()} | {pk: Marks.of(p) for pk, p in made.products.items()}
        for pk, product in made.products.items():
            made.named |= {str(product).casefold(): pk, product.model.casefold(): pk}
        devices = (
            Device.objects.filter(firm_id=system.firm_id, system=system, removed_on=None)
            .order_by("address")
            .values_list(*Listed._fields)
        )
        found: Counter[tuple[str, UUID]] = Counter()
        for pk, address, label, kind, setting, product_id, drift, limit in devices:
            as_set = None if setting is None else float(setting)
            device = Listed(pk, address, label, kind, as_set, product_id, drift, limit)
            made.by_address[address] = device
            made.by_same.setdefault(same_address(address), []).append(device)
            if product_id is not None:
                found[kind, product_id] += 1
        for (kind, product_id), _ in found.most_common():
            made.usual.setdefault(kind, product_id)
        return made

    def find(self, address: str) -> list[Listed]:
        """Find the device with this address, or those it may mean if it is read kindly."""
        if device := self.by_address.get(address):
            return [device]
        return self.by_same.get(same_address(address), []) if address else []

    def product_for(self, *, kind: str, said: Mapping[str, Any], chosen: Any) -> UUID | None:
        """Say of which product a new device will be: chosen, named in the file, or the usual."""
        for pk in self.products:
            if str(pk) == str(chosen or ""):
                return pk
        if named := self.named.get(str(said["product"] or "").casefold()):
            return named
        return self.usual.get(kind)


@dataclass
class Matched:
    """One row against the list."""

    outcome: str
    differs: list[str]
    device: Listed | None
    said: dict[str, Any]
    kind: str
    product_id: UUID | None  # of its device, or of the one that would be added
    terms: Terms | None  # what its reading is judged by, where it holds one
    verdict: str = VerdictState.NOT_JUDGED


def match_rows(rows: Sequence[Printed], *, listed: DeviceList) -> list[Matched]:
    """Match all rows of a file to the list as it is now, and judge their readings."""
    twins = _find_twins(rows, listed=listed)
    matched = [_match(row, listed=listed, twins=twins.get(row.number, [])) for row in rows]
    held = [one for one in matched if one.terms is not None]
    if held:
        states = judge_many([one.terms for one in held if one.terms is not None]).state.tolist()
        for one, state in zip(held, states, strict=True):
            one.verdict = state
    return matched


def _find_twins(rows: Sequence[Printed], *, listed: DeviceList) -> dict[int, list[int]]:
    """Find rows of one device, by number; a row that is left out is nobody's twin."""
    groups: dict[Any, list[int]] = {}
    for row in rows:
        address = str(row.said["address"] or "")
        if address and not row.is_left_out:
            found = listed.find(address)
            key = found[0].pk if len(found) == 1 else same_address(address)
            groups.setdefault(key, []).append(row.number)
    return {number: group for group in groups.values() if len(group) > 1 for number in group}


def _match(row: Printed, *, listed: DeviceList, twins: list[int]) -> Matched:
    said = row.said
    found = listed.find(str(said["address"] or ""))
    device = found[0] if len(found) == 1 else None
    kind = device.kind if device else _kind_of(said)
    product_id = (
        device.product_id
        if device
        else listed.product_for(kind=kind, said=said, chosen=row.corrected.get("product_id"))
    )
    marks = listed.marks.get(product_id) or Marks()
    terms = None
    if kind in SENSITIVE_KINDS and holds_reading(said):
        setting = device.setting if device else None
        terms = terms_of(evidence=evidence_of(said), marks=marks, setting=setting)
    problems, notes = _open_problems(row)
    problems += _find_problems(said=said, device=device, found=found, twins=twins)
    if problems:
        return Matched(RowOutcome.PROBLEM, problems, device, said, kind, product_id, terms)
    if terms is not None:
        notes = [*_marks_differ(said=said, marks=marks), *notes]
    if device is None:
        new = "Not on the device list; looks newly fitted."
        if kind in SENSITIVE_KINDS:
            product = listed.products.get(product_id) if product_id else None
            new += f" Product: {product or 'not known'}."
        return Matched(RowOutcome.NEW, [new, *notes], None, said, kind, product_id, terms)
    differs = [*_differences(said=said, device=device, corrected=row.corrected), *notes]
    outcome = RowOutcome.CHANGED if differs else RowOutcome.SAME
    return Matched(outcome, differs, device, said, kind, product_id, terms)


def _kind_of(said: Mapping[str, Any]) -> str:
    if not said["kind"] and holds_reading(said):
        return Kind.SMOKE  # it has a sensitivity, so it is one
    return KINDS.get(said["kind"] or "", Kind.OTHER)


def _open_problems(row: Printed) -> tuple[list[str], list[str]]:
    """List what of the row could not be read and nobody answered; and, apart, what is not used."""
    problems, notes = [], []
    for about, sentence in row.understood.get("problems", []):
        if about and about not in ANSWERABLE:
            notes.append(sentence)
        elif about not in row.corrected:
            problems.append(sentence)
    return problems, notes


def _find_problems(
    *,
    said: Mapping[str, Any],
    device: Listed | None,
    found: Sequence[Listed],
    twins: Sequence[int],
) -> list[str]:
    address = str(said["address"] or "")
    problems = []
    if not address:
        problems.append("It has no address. Give it one, or leave the row out.")
    elif len(address) > _ADDRESS_ROOM:
        problems.append(f"The address has more than {_ADDRESS_ROOM} characters.")
    if len(found) > 1:
        names = " and ".join(one.address for one in found[:3])
        problems.append(f"{address} may be {names}. Write it as on the list.")
    if twins:
        said_rows = ", ".join(map(str, twins[:6])) + (" and more" if len(twins) > 6 else "")
        times = "twice" if len(twins) == 2 else f"{len(twins)} times"
        problems.append(f"{address} is printed {times}: rows {said_rows}. Leave out all but one.")
    problems += typed.impossible(
        measured=said["measured"],
        setting=said["setting"],
        present=said["now"],
        drift=said["drift"],
        limit=said["limit"],
        allowance_used=said["used"],
        marked_low=said["marked_low"],
        marked_high=said["marked_high"],
    )
    if device is not None and device.kind not in SENSITIVE_KINDS and _reads_smoke(said):
        kind = Kind(device.kind).label
        article = "an" if kind[0] in "aeiou" else "a"
        problems.append(
            f"The list has {device.address} as {article} {kind}, which has no sensitivity to read."
            " Correct its kind on the list, or leave the row out."
        )
    return problems


def _reads_smoke(said: Mapping[str, Any]) -> bool:
    """Whether a row gives the sensitivity of a smoke detector."""
    if said["kind"] in ("smoke", "smoke+heat"):
        return holds_reading(said)
    quantities = ("measured", "setting", "drift", "used")
    return said["kind"] != "heat" and any(said[name] is not None for name in quantities)


def evidence_of(said: Mapping[str, Any]) -> Evidence:
    """Give a row's quantities as evidence. [%/ft]"""
    return Evidence(
        measured=said["measured"],
        setting=said["setting"],
        present=said["now"],
        drift=said["drift"],
        used=said["used"],
        limit=said["limit"],
        marked_low=said["marked_low"],
        marked_high=said["marked_high"],
        control_unit_says=said["control_unit_says"],
    )


def holds_reading(said: Mapping[str, Any]) -> bool:
    """Whether a row says anything of a detector's sensitivity."""
    names = ("measured", "setting", "drift", "used", "control_unit_says")
    return any(said[name] is not None for name in names)


def looks_cleaned(
    *, drift: float | None, latest_drift: float | None, latest_limit: float | None
) -> bool:
    """Whether the drift fell so far since the last reading that somebody must have cleaned it."""
    if drift is None or latest_drift is None:
        return False
    return latest_drift - drift > max(FALL_LEAST, FALL_SHARE * (latest_limit or 0.0))


def differing_label(*, said: Mapping[str, Any], device: Listed) -> str:
    """Give the printed label where it differs from the list's; empty where it does not."""
    label = str(said["label"] or "")[:LABEL_ROOM]
    return label if label != device.label else ""


def differing_setting(*, said: Mapping[str, Any], device: Listed) -> float | None:
    """Give the printed setting where it differs from the list's. [%/ft]"""
    read = said["setting"]
    if read is None or (device.setting is not None and abs(device.setting - read) <= _NEAR):
        return None
    return float(read)


def _marks_differ(*, said: Mapping[str, Any], marks: Marks) -> list[str]:
    """Say where the marks printed for a detector are not its product's."""
    pairs = ((said["marked_low"], marks.low), (said["marked_high"], marks.high))
    if not any(
        ours is not None and read is not None and abs(read - ours) > _NEAR for read, ours in pairs
    ):
        return []
    read_low, read_high = said["marked_low"], said["marked_high"]
    return [
        f"Marked {_range(read_low, read_high)} in the file; the product says {_range(*marks[:2])}."
    ]


def _range(low: float | None, high: float | None) -> str:
    def say(number: float) -> str:
        return f"{number:.1f}" if abs(round(number, 1) - number) < _NEAR else f"{number:.3g}"

    if low is None or high is None:
        return f"{say(low)} and above" if low is not None else f"{say(high or 0.0)} at most"
    return f"{say(low)} to {say(high)}"


def _differences(
    *, said: Mapping[str, Any], device: Listed, corrected: Mapping[str, Any]
) -> list[str]:
    differs = []
    if said["address"] != device.address:
        differs.append(f"Printed {said['address']}; the list has {device.address}.")
    keeps = device.label == "" or corrected.get("keep_label")
    if not keeps and differing_label(said=said, device=device):
        differs.append(f"Label was “{device.label}”.")
    kind = KINDS.get(said["kind"] or "")
    if kind and kind != device.kind and not (kind == Kind.SMOKE and device.kind == Kind.DUCT):
        differs.append(f"The list has it as a {Kind(device.kind).label}.")
    read = differing_setting(said=said, device=device)
    if read is not None and device.setting is not None:
        differs.append(f"Setting was {device.setting:g}, now {read:g}.")
    if corrected.get("cleaned"):
        differs.append("Cleaned since its last reading: a new run begins.")
    elif looks_cleaned(
        drift=said["drift"],
        latest_drift=device.latest_drift,
        latest_limit=device.latest_limit,
    ):
        differs.append(f"Drift was {device.latest_drift:.2f}: cleaned? A new run would begin.")
    return differs


def judge_rows(matched: Sequence[Matched]) -> dict[int, sensitivity.Verdict]:
    """Judge the readings of rows with their reasons, by each row's place."""
    held = [(at, one.terms) for at, one in enumerate(matched) if one.terms is not None]
    known: dict[Terms, sensitivity.Verdict] = {}  # many detectors stand alike
    for _, terms in held:
        if terms not in known:
            known[terms] = sensitivity.judge(**terms._asdict())
    return {at: known[terms] for at, terms in held}


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
            f"Only {alike} of {len(labelled)} labels are those of {building.name}. "
            "Is this the right building's print-out?"
        )
    return ""
