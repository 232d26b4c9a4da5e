"""Turn a sealed record into what its paper shows: plain values, no database, no clock.

A record is read as it was frozen; a key that an older record lacks reads as empty.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from typing import Any
from zoneinfo import ZoneInfo

from contractor.web import charts
from contractor.web.charts.range_bar import NEARING_SHARE

Record = dict[str, Any]

BASIS = {
    "first_year": "within the first year",
    "alternate_year": "every alternate year",
    "extended": "the longer interval of five years",
    "restart": "alternate years again, after a failure",
    "nuisance_increase": "nuisance alarms have risen",
    "annual": "every year",
}
#: Drawings of drift beyond these would bury the rest; the tables hold every detector.
MOST_DRAWINGS = 24
#: Rows of the first page's list; the full list follows where there are more.
MOST_ON_COVER = 7
#: Addresses beyond these are not repeated in words: each stands in the tables.
MOST_ADDRESSES = 120
_NEARING, _OUT = "nearing_limit", "out_of_range"


@dataclass(frozen=True)
class Edited:
    """What an amendment replaces, and what it changed."""

    revision: int
    fingerprint: str
    sealed_at: datetime
    changes: tuple[dict[str, str], ...]


@dataclass(frozen=True)
class Row:
    """One detector with its reading, as its table shows it."""

    device: dict[str, Any]
    reading: dict[str, Any]
    as_left: dict[str, Any] | None
    bar: charts.RangeRow | None

    @property
    def point(self) -> str:
        """Its alarm point [%/ft], measured or else as set."""
        return _number(_point(self.reading))

    @property
    def corrected(self) -> str:
        """What the control unit corrects [%/ft]."""
        return _number(self.reading.get("drift"), places=2)

    @property
    def used(self) -> str:
        """How much of the allowance is used, in percent."""
        used = self.reading.get("used")
        return "" if used is None else f"{used * 100:.0f} %"

    @property
    def word(self) -> str:
        """Its verdict in one or two words."""
        return "nearing" if self.reading["verdict"] == _NEARING else ""

    @property
    def remarks(self) -> list[str]:
        """Why it is not well, who judged otherwise, and what was left."""
        reading, said = self.reading, []
        # Of one that nears its limit the row's own numbers say why.
        if reading["verdict"] in (_OUT, "not_judged") and reading.get("reason"):
            said.append(str(reading["reason"]).rstrip("."))
        if reading.get("override_reason"):
            said.append(f"verdict by the technician: {reading['override_reason']}")
        if self.as_left is not None:
            said.append(say_as_left(self.as_left))
        return said

    @property
    def marked(self) -> str:
        """The range that is marked on it [%/ft]."""
        low, high = (_number(self.reading.get(key)) for key in ("marked_low", "marked_high"))
        return f"{low}–{high}" if low and high else f"to {high}" if high else "none"

    @property
    def due_on(self) -> date | None:
        """The latest day of its next sensitivity test."""
        return as_day((self.device.get("next") or {}).get("due_on"))


@dataclass(frozen=True)
class Done:
    """One task of one device and how it went."""

    words: str
    key: str


@dataclass(frozen=True)
class Listed:
    """One device of the inventory: where it is, what was done, by whom, with what result."""

    address: str
    label: str
    kind: str
    product: str
    serial: str
    is_well: bool
    done: tuple[Done, ...]
    by: str
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class Zone:
    """Devices of one area, in the order of the round."""

    name: str
    about: str
    devices: tuple[dict[str, Any], ...]

    @property
    def results(self) -> tuple[str, ...]:
        """How each stands."""
        return tuple(_state(device["result"]) for device in self.devices)


@dataclass(frozen=True)
class Tool:
    """An instrument with its calibration."""

    name: str
    serial: str
    began: date | None
    ends: date | None


@dataclass(frozen=True)
class Wrong:
    """A finding, open or put right."""

    shape: str
    severity_words: str
    device: str
    title: str
    text: str
    found: date | None
    corrected: date | None
    correction: str


@dataclass(frozen=True)
class NextTest:
    """Detectors whose next sensitivity test falls on one day for one reason."""

    due_on: date
    basis: str
    clause: str
    reasons: tuple[tuple[date, str], ...]
    addresses: tuple[str, ...]


def as_day(text: str | None) -> date | None:
    """Read an ISO day; nothing stays nothing."""
    return date.fromisoformat(text) if text else None


def day_of(record: Record) -> date:
    """Give the day that a record is named after: its last, or else its first or planned one."""
    visit = record["visit"]
    days = (as_day(visit.get(key)) for key in ("ended_on", "began_on", "planned_on"))
    return next(day for day in days if day is not None)


def say_instant(at: datetime, record: Record) -> str:
    """Say an instant by the building's clock, and name the clock."""
    there = at.astimezone(ZoneInfo(record["property"].get("time_zone") or "UTC"))
    return f"{there:%-d %b %Y, %H:%M %Z}"


def group(fingerprint: str) -> str:
    """Set a fingerprint in groups of four, so that it can be read aloud."""
    return " ".join(fingerprint[at : at + 4] for at in range(0, len(fingerprint), 4))


def group_devices(record: Record) -> list[tuple[str, str, list[dict[str, Any]]]]:
    """Put the devices of each area together, in the order in which the areas first come."""
    found: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for device in record["devices"]:
        key = (device.get("area") or "No zone named", device.get("area_words") or "")
        found.setdefault(key, []).append(device)
    return [(name, about, devices) for (name, about), devices in found.items()]


def list_fullest(record: Record, *, most: int = MOST_DRAWINGS) -> list[str]:
    """List the detectors that will be drawn, by id: near their limit or out, the fullest first."""
    rows = [
        row
        for row in list_rows(record["devices"])
        if row.reading["verdict"] in (_NEARING, _OUT) and row.device.get("history")
    ]
    rows.sort(key=lambda row: -(row.reading.get("used") or 0.0))
    return [row.device["id"] for row in rows[:most]]


def say_readings(record: Record) -> str:
    """Say in one sentence how the detectors were found."""
    counts = record["counts"]
    read = sum(bool(one.get("readings")) for one in record["devices"])
    said = [
        f"{counts[key]:,} {'was' if counts[key] == 1 else 'were'} {words}"
        for key, words in (
            ("in_range", "in range"),
            ("nearing", "nearing the limit"),
            ("out", "out of range"),
            ("not_judged", "not judged"),
        )
        if counts.get(key)
    ]
    return f"Of {_count(read, 'detector')} that were read, {_and(said)}." if said else ""


def list_zones(record: Record) -> list[Zone]:
    """List the areas with their devices."""
    return [Zone(name, about, tuple(devices)) for name, about, devices in group_devices(record)]


def say_verdicts(rows: Iterable[Row]) -> list[str]:
    """Say how many detectors stand where, in words; states without any are left out."""
    words = {
        "in_range": "in range",
        _NEARING: "nearing",
        _OUT: "out of range",
        "not_judged": "not judged",
    }
    found = [row.reading["verdict"] for row in rows]
    return [f"{found.count(key)} {word}" for key, word in words.items() if key in found]


def say_methods(rows: Iterable[Row]) -> str:
    """Say by which methods detectors were read."""
    found = (row.reading.get("method", "") for row in rows)
    return ", ".join(dict.fromkeys(method for method in found if method))


def _state(result: str) -> str:
    """Give a result as one that is printed; whatever is neither pass nor fail was not tested."""
    return result if result in ("pass", "fail") else "not_tested"


def list_device(device: dict[str, Any]) -> Listed:
    """Say of one device where it is, what was done, with what result, by whom."""
    tasks = device["tasks"]
    readings = device.get("readings") or []
    remarks = [say_why(device)] if device["result"] != "pass" else []
    remarks += [str(said) for said in device.get("actions") or []]
    remarks += [say_as_left(one) for one in readings if one["stage"] == "as_left"]
    people = (state.get("by", "") for state in tasks.values())
    return Listed(
        address=device["address"],
        label=device.get("label", ""),
        kind=device["kind_words"],
        product=device.get("product", ""),
        serial=device.get("serial", ""),
        is_well=device["result"] == "pass",
        done=_group_tasks(tasks),
        by=", ".join(dict.fromkeys(name for name in people if name)),
        remarks=tuple(dict.fromkeys(remarks)),
    )


def _group_tasks(tasks: dict[str, dict[str, Any]]) -> tuple[Done, ...]:
    """Say a result once for all tasks that have it."""
    found: dict[str, list[str]] = {}
    for task, state in tasks.items():
        found.setdefault(_state(state["result"]), []).append(task)
    return tuple(Done(", ".join(names), key) for key, names in found.items())


def say_as_left(reading: dict[str, Any]) -> str:
    """Say the reading that was taken after the work."""
    said = _number(_point(reading))
    drift = _number(reading.get("drift"), places=2)
    parts = [f"{said} %/ft" if said else "", f"{drift} corrected" if drift else ""]
    shown = ", ".join(part for part in parts if part)
    return f"as left: {shown or 'read'}, {reading['verdict'].replace('_', ' ')}"


def _point(reading: dict[str, Any]) -> float | None:
    measured = reading.get("measured")
    return reading.get("setting") if measured is None else measured


def _number(value: float | None, *, places: int | None = None) -> str:
    """Write a quantity; without places, at least one and as many as it has."""
    if value is None:
        return ""
    if places is not None:
        return f"{value:.{places}f}"
    return f"{value:.1f}" if abs(value * 10 - round(value * 10)) < 1e-9 else f"{value:.4g}"


def list_rows(devices: Iterable[dict[str, Any]]) -> Iterator[Row]:
    """List the detectors that were read, each with its reading as found and as left."""
    for device in devices:
        readings = device.get("readings") or []
        found = next((one for one in readings if one["stage"] == "as_found"), None)
        found = found or (readings[0] if readings else None)
        if found is None:
            continue
        left = next((one for one in reversed(readings) if one["stage"] == "as_left"), None)
        yield Row(device, found, None if left is found else left, _bar(found))


def _bar(reading: dict[str, Any]) -> charts.RangeRow | None:
    """Draw the small bar; without a point there is nothing to draw."""
    point = _point(reading)
    if point is None:
        return None
    return charts.RangeRow(
        bar=charts.RangeBar(
            state=reading["verdict"],
            value=point,
            marked_low=reading.get("marked_low"),
            marked_high=reading.get("marked_high"),
            drift=reading.get("drift"),
            limit=reading.get("limit"),
            held=reading.get("drift") is not None,
        )
    )


def list_absent(record: Record) -> list[dict[str, Any]]:
    """List what did not pass and what was not tested, failures first."""
    order = {"fail": 0, "not_tested": 1}
    found = [device for device in record["devices"] if device["result"] in order]
    return sorted(found, key=lambda device: order[device["result"]])


def say_why(device: dict[str, Any]) -> str:
    """Say why a device failed or was not tested, in the words that were given."""
    if device["result"] == "not_tested" and device.get("not_tested_reason"):
        return str(device["not_tested_reason"])
    said = [
        str(state["reason"])
        for state in device["tasks"].values()
        if state["result"] == device["result"] and state.get("reason")
    ]
    return "; ".join(dict.fromkeys(said)) or "no reason is on the record"


def list_next(record: Record) -> list[NextTest]:
    """List when the next sensitivity tests fall due and why, the earliest first."""
    found: dict[tuple[Any, ...], list[str]] = {}
    for device in record["devices"]:
        following = device.get("next")
        if not following:
            continue
        due_on = as_day(following["due_on"])
        reasons = tuple(
            (as_day(one["on"]), str(one["text"]).rstrip("."))
            for one in following.get("reasons") or []
        )
        key = (due_on, following.get("basis", ""), following.get("clause", ""), reasons)
        found.setdefault(key, []).append(device["address"])
    return [
        NextTest(due_on, BASIS.get(basis, basis), clause, reasons, tuple(addresses))
        for (due_on, basis, clause, reasons), addresses in sorted(
            found.items(), key=lambda one: (one[0][0], one[1][0])
        )
    ]


def list_soiled(
    record: Record, *, on: date, foreseen: Mapping[str, Any] | None = None
) -> list[tuple[Row, charts.DriftHistory]]:
    """Draw the drift of the detectors that near their limit or are out, the fullest first."""
    rows = [
        row
        for row in list_rows(record["devices"])
        if row.reading["verdict"] in (_NEARING, _OUT) and row.device.get("history")
    ]
    rows.sort(key=lambda row: -(row.reading.get("used") or 0.0))
    found = foreseen or {}
    return [(row, _history(row, on, found.get(row.device["id"]))) for row in rows]


def _history(row: Row, on: date, foreseen: Any = None) -> charts.DriftHistory:
    runs: list[charts.Run] = []
    points: list[charts.DriftPoint] = []
    history = row.device["history"]
    for at, one in enumerate(history):
        if at and one.get("run_cause"):
            runs.append(charts.Run(points=tuple(points), ended_by=one["run_cause"]))
            points = []
        day = as_day(one["on"])
        assert day is not None
        points.append(
            charts.DriftPoint(day=day, drift=one["drift"], counted=bool(one.get("counted")))
        )
    runs.append(charts.Run(points=tuple(points)))
    return charts.DriftHistory(
        runs=tuple(runs),
        limit=row.reading.get("limit") or history[-1].get("limit"),
        warning_share=NEARING_SHARE,
        today=on,
        tall=110,
        future=foreseen.future if foreseen else (),
        p10=foreseen.p10 if foreseen else None,
        p50=foreseen.p50 if foreseen else None,
        p90=foreseen.p90 if foreseen else None,
    )


def strokes(zones: list[Zone]) -> charts.Strokes:
    """Draw every device as a stroke, area after area."""
    return charts.Strokes(
        states=tuple(result for zone in zones for result in zone.results),
        noun="devices",
        groups=tuple((zone.name, len(zone.devices)) for zone in zones),
        tall=22,
    )


def say_answer(record: Record) -> str:
    """Say the whole report in one sentence."""
    counts = record["counts"]
    if counts["passed"] == counts["devices"]:
        return f"All {_count(counts['devices'], 'device')} passed."
    said = [f"{counts['passed']:,} passed"]
    if counts["failed"]:
        said.append(f"{counts['failed']:,} failed")
    if counts["not_tested"]:
        was = "was" if counts["not_tested"] == 1 else "were"
        said.append(f"{counts['not_tested']:,} {was} not tested")
    return f"Of {_count(counts['devices'], 'device')}, {_and(said)}."


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def _and(parts: list[str]) -> str:
    return " and ".join([", ".join(parts[:-1]), parts[-1]]) if len(parts) > 1 else parts[0]


def list_clauses(record: Record) -> list[tuple[str, list[dict[str, str]]]]:
    """List the edition's clauses by how sure we are of them; the note is said once for each."""
    clauses = record["edition"].get("clauses") or []
    ordered = sorted(clauses, key=lambda one: one.get("grade", ""))
    return [
        (grade, list(found)) for grade, found in groupby(ordered, lambda one: one.get("grade", ""))
    ]


def sum_up_clauses(record: Record) -> list[tuple[str, list[str]]]:
    """List the numbers of clauses under how sure we are of them, without naming each source."""
    found: dict[str, list[str]] = {}
    for one in record["edition"].get("clauses") or []:
        said = one.get("grade", "").split(";")[0].split(" by ")[0] or "not graded"
        if one["clause"] not in found.setdefault(said, []):
            found[said].append(one["clause"])
    return list(found.items())


def list_tools(record: Record) -> list[Tool]:
    """List the instruments with the days of their calibration."""
    return [
        Tool(
            one["name"],
            one.get("serial", ""),
            as_day(one.get("calibrated_on")),
            as_day(one.get("calibration_ends_on")),
        )
        for one in record.get("instruments") or []
    ]


def list_wrong(record: Record) -> list[Wrong]:
    """List the findings; an observation has the least of their shapes."""
    return [
        Wrong(
            "noncritical" if one["severity"] == "observation" else one["severity"],
            one["severity_words"],
            one.get("device", ""),
            one["title"],
            one.get("text", ""),
            as_day(one["found_on"]),
            as_day(one.get("corrected_on")),
            one.get("correction", ""),
        )
        for one in record.get("findings") or []
    ]


RESULT_HEADS = (
    *("address", "place", "area", "kind", "product", "serial", "result", "reason", "by"),
    *("stage", "alarm_point_pct_ft", "corrected_pct_ft", "limit_pct_ft", "used"),
    *("marked_low_pct_ft", "marked_high_pct_ft", "verdict", "method", "instrument", "read_on"),
    *("next_sensitivity_by", "basis", "clause"),
)


def list_results(record: Record) -> Iterator[tuple[Any, ...]]:
    """List the results of a record, a row for each reading or, without one, for each device."""
    for device in record["devices"]:
        following = device.get("next") or {}
        by = dict.fromkeys(name for one in device["tasks"].values() if (name := one.get("by")))
        for reading in device.get("readings") or [{}]:
            yield (
                *(device["address"], device.get("label"), device.get("area")),
                *(device["kind_words"], device.get("product"), device.get("serial")),
                device["result"],
                "" if device["result"] == "pass" else say_why(device),
                ", ".join(by),
                *(reading.get("stage"), _point(reading), reading.get("drift")),
                *(reading.get("limit"), reading.get("used"), reading.get("marked_low")),
                *(reading.get("marked_high"), reading.get("verdict"), reading.get("method")),
                *(reading.get("instrument"), reading.get("taken_on"), following.get("due_on")),
                *(BASIS.get(following.get("basis", ""), ""), following.get("clause")),
            )
