"""Match the rows of a print-out to the devices on the list, and say what differs."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Self
from uuid import UUID

from contractor.engine import layouts
from contractor.readings.models import RowOutcome
from contractor.readings.services.judging import Evidence, Judged, judge_device
from contractor.register.models import Building, Device, Kind, System

#: What the engine calls a kind, and what the register calls it.
KINDS = {
    "smoke": Kind.SMOKE,
    "heat": Kind.HEAT,
    "smoke+heat": Kind.SMOKE_HEAT,
    "other": Kind.OTHER,
}
#: Quantities of a row that are kept with it, as the engine names them.
KEPT = (
    "address",
    "label",
    "kind",
    "setting",
    "now",
    "drift",
    "used",
    "limit",
    "measured",
    "marked_low",
    "marked_high",
    "control_unit_says",
    "as_left",
    "area",
    "product",
)
#: A fall of the drift by more than this share of the limit looks like a cleaning.
FALL_SHARE = 0.25
FALL_LEAST = 0.1  # [%/ft]
_LABEL_ROOM = 160
_ADDRESS_ROOM = 40


def same_address(address: str) -> str:
    """Write an address the same way whatever its case, spaces and leading zeros.

    >>> same_address("l1 d014"), same_address("L01D14"), same_address("1-014")
    ('l1d14', 'l1d14', '1-14')
    """
    return re.sub(r"0*(\d+)", r"\1", re.sub(r"\s+", "", address).casefold())


@dataclass
class Matched:
    """One row against the list."""

    outcome: str
    differs: list[str]
    device: Device | None
    understood: dict[str, Any]
    judged: Judged | None


@dataclass
class DeviceList:
    """The devices of one system, found by address."""

    by_address: dict[str, Device] = field(default_factory=dict)
    by_same: dict[str, list[Device]] = field(default_factory=dict)

    @classmethod
    def of(cls, devices: Iterable[Device]) -> Self:
        """Make the list."""
        made = cls()
        for device in devices:
            made.by_address[device.address] = device
            made.by_same.setdefault(same_address(device.address), []).append(device)
        return made

    def find(self, address: str) -> tuple[Device | None, bool]:
        """Find a device; the second answer tells whether the address had to be read kindly."""
        if device := self.by_address.get(address):
            return device, False
        alike = self.by_same.get(same_address(address), [])
        return (alike[0], True) if len(alike) == 1 else (None, False)


def match_row(*, row: layouts.Row, listed: DeviceList, corrected: dict[str, Any]) -> Matched:
    """Match one row as printed, with what a member corrected, to the list."""
    said = {name: getattr(row, name) for name in KEPT}
    said["taken_on"] = row.taken_on.isoformat() if row.taken_on else None
    problems = list(row.problems)
    return match(said=said, problems=problems, listed=listed, corrected=corrected)


def match(
    *, said: dict[str, Any], problems: list[str], listed: DeviceList, corrected: dict[str, Any]
) -> Matched:
    """Match one row, given as kept, to the list."""
    row = said | {k: v for k, v in corrected.items() if k in said}
    address = str(row["address"] or "")
    device, kindly = listed.find(address)
    if len(address) > _ADDRESS_ROOM:
        problems = [*problems, f"The address has more than {_ADDRESS_ROOM} characters."]
    if len(row["label"] or "") > _LABEL_ROOM:
        row["label"] = row["label"][:_LABEL_ROOM]
    stand_in = device or Device(
        kind=KINDS.get(row["kind"] or "", Kind.OTHER), address=address, setting=row["setting"]
    )
    judged = None
    if holds_reading(row):
        judged = judge_device(device=stand_in, evidence=evidence_of(row))
    if problems:
        return Matched(RowOutcome.PROBLEM, problems, device, said, judged)
    if device is None:
        return Matched(
            RowOutcome.NEW, ["Not on the device list; looks newly fitted."], None, said, judged
        )
    differs = _differences(row=row, device=device, kindly=kindly)
    outcome = RowOutcome.CHANGED if differs else RowOutcome.SAME
    return Matched(outcome, differs, device, said, judged)


def evidence_of(row: dict[str, Any]) -> Evidence:
    """Give a row's quantities as evidence. [%/ft]"""
    return Evidence(
        measured=row["measured"],
        setting=row["setting"],
        present=row["now"],
        drift=row["drift"],
        used=row["used"],
        limit=row["limit"],
        marked_low=row["marked_low"],
        marked_high=row["marked_high"],
        control_unit_says=row["control_unit_says"],
    )


def holds_reading(row: dict[str, Any]) -> bool:
    """Whether a row says anything of a detector's sensitivity."""
    names = ("measured", "setting", "drift", "used", "control_unit_says")
    return any(row[name] is not None for name in names)


def looks_cleaned(*, row: dict[str, Any], device: Device) -> bool:
    """Whether the drift fell so far since the last reading that somebody must have cleaned it."""
    if row["drift"] is None or device.latest_drift is None:
        return False
    least = max(FALL_LEAST, FALL_SHARE * (device.latest_limit or 0.0))
    return bool(device.latest_drift - row["drift"] > least)


def _differences(*, row: dict[str, Any], device: Device, kindly: bool) -> list[str]:
    differs = []
    if kindly:
        differs.append(f"Printed {row['address']}; the list has {device.address}.")
    if row["label"] and device.label and row["label"] != device.label:
        differs.append(f"Label was “{device.label}”.")
    kind = KINDS.get(row["kind"] or "")
    if kind and kind != device.kind and not (kind == Kind.SMOKE and device.kind == Kind.DUCT):
        differs.append(f"The list has it as a {device.get_kind_display()}.")
    if (
        row["setting"] is not None
        and device.setting is not None
        and abs(float(device.setting) - row["setting"]) > 0.0005
    ):
        differs.append(f"Setting was {float(device.setting):g}, now {row['setting']:g}.")
    if looks_cleaned(row=row, device=device):
        differs.append(f"Drift was {device.latest_drift:.2f}: cleaned? A new run would begin.")
    return differs


def find_mix_up(
    *,
    rows: list[Matched],
    system: System,
    others: dict[UUID, tuple[str, set[str]]],
    stated: str,
    building: Building,
) -> str:
    """Say whether this looks like another system's print-out; empty where it does not.

    others: per other system of the firm, its name in words and its devices' addresses and labels
    in the form `address|label`.
    """
    known = [row for row in rows if row.device is not None]
    listed = len(rows)
    if stated and stated.casefold() not in f"{building.name} {system.name}".casefold():
        names = {name for name, _ in others.values()}
        hit = next((name for name in names if stated.casefold() in name.casefold()), "")
        if hit:
            return f"The file names {stated}. Is this the print-out of {building.name}?"
    labelled = [
        (row.understood["label"], row.device.label)
        for row in known
        if row.device is not None and row.understood["label"] and row.device.label
    ]
    alike = sum(printed.casefold() == ours.casefold() for printed, ours in labelled)
    mostly_strange = len(labelled) >= 5 and alike < 0.3 * len(labelled)
    few_known = listed >= 5 and len(known) < 0.5 * listed
    if not (mostly_strange or few_known):
        return ""
    keys = {
        f"{same_address(row.understood['address'])}|{row.understood['label'].casefold()}"
        for row in rows
        if row.understood["address"]
    }
    best, hits = "", 0
    for name, theirs in others.values():
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
