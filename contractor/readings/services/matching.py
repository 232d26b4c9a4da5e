"""Match the rows of a print-out to the devices on the list, and say what differs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from contractor.engine import sensitivity, typed
from contractor.engine.layouts import devices, same_address
from contractor.readings.models import RowOutcome
from contractor.readings.services.facts import differing_facts, say_facts
from contractor.readings.services.judging import Evidence, Marks, Terms, judge_many, terms_of
from contractor.readings.services.listed import DeviceList, Listed
from contractor.readings.services.printed import ANSWERABLE, KINDS, Printed
from contractor.register.models import (
    SENSITIVE_KINDS,
    Kind,
    VerdictState,
)

#: A fall of the drift by more than this share of the limit looks like a cleaning.
FALL_SHARE = 0.25
FALL_LEAST = 0.1  # [%/ft]
LABEL_ROOM = 160
_ADDRESS_ROOM = 40
_NEAR = 0.0005  # settings and marks are kept to three places [%/ft]


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
    left: Terms | None = None  # and what it was left at, by which that is judged
    verdict: str = VerdictState.NOT_JUDGED
    judged: sensitivity.Verdict | None = None  # the verdict with its reason, where it was asked for


def match_rows(
    rows: Sequence[Printed],
    *,
    listed: DeviceList,
    states_facts: bool = False,
    with_reasons: bool = False,
) -> list[Matched]:
    """Match all rows of a file to the list as it is now, and judge their readings.

    states_facts: it is a device list, so what it states of a device on the list changes it.
    with_reasons: give each verdict with its reason, which takes longer than its state alone.
    """
    twins = _find_twins(rows, listed=listed)
    matched = [
        _match(row, listed=listed, twins=twins.get(row.number, []), states_facts=states_facts)
        for row in rows
    ]
    held = [one for one in matched if one.terms is not None]
    if held and with_reasons:
        for at, verdict in judge_terms([one.terms for one in matched]).items():
            matched[at].judged, matched[at].verdict = verdict, str(verdict.state)
    elif held:
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


def _match(row: Printed, *, listed: DeviceList, twins: list[int], states_facts: bool) -> Matched:
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
    terms = left = None
    if kind in SENSITIVE_KINDS:
        setting = device.setting if device else None
        if holds_reading(said):
            terms = terms_of(evidence=evidence_of(said), marks=marks, setting=setting)
        if said["as_left"] is not None:
            as_left = Evidence(
                measured=said["as_left"],
                marked_low=said["marked_low"],
                marked_high=said["marked_high"],
            )
            left = terms_of(evidence=as_left, marks=marks, setting=setting)
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
            new += f" Product: {product or _unknown_product(said, listed, is_list=states_facts)}."
        return Matched(RowOutcome.NEW, [new, *notes], None, said, kind, product_id, terms, left)
    differs = _differences(said=said, device=device, corrected=row.corrected)
    if states_facts:
        differs = [one for one in differs if not one.startswith("The list has it as")]
        facts = differing_facts(said=said, device=device, listed=listed)
        differs += say_facts(facts, device=device, listed=listed)
    differs += notes
    outcome = RowOutcome.CHANGED if differs else RowOutcome.SAME
    return Matched(outcome, differs, device, said, kind, product_id, terms, left)


def _unknown_product(said: Mapping[str, Any], listed: DeviceList, *, is_list: bool) -> str:
    name = str(said["product"] or "").strip()
    if not name:
        return "not known"
    if name.casefold() in listed.named:
        return f"{name}, which two of yours are called"
    return (
        f"{name}, which is added; what is marked on it is not known yet"
        if is_list
        else (f"{name}, which is none of yours")
    )


def _kind_of(said: Mapping[str, Any]) -> str:
    if not said["kind"] and holds_reading(said):
        return Kind.SMOKE  # it has a sensitivity, so it is one
    named, _ = devices.name_device(str(said["type_text"] or ""))
    if named:
        return named
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


def judge_terms(readings: Sequence[Terms | None]) -> dict[int, sensitivity.Verdict]:
    """Judge readings with their reasons, by each one's place."""
    held = [(at, terms) for at, terms in enumerate(readings) if terms is not None]
    known: dict[Terms, sensitivity.Verdict] = {}  # many detectors stand alike
    for _, terms in held:
        if terms not in known:
            known[terms] = sensitivity.judge(**terms._asdict())
    return {at: known[terms] for at, terms in held}
