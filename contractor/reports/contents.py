"""Turn a sealed record into what its paper shows: plain values, no database, no clock.

A record is read as it was frozen; a key that an older record lacks reads as empty. What is said of
detectors stands in detectors.py, what is said of each device in listings.py.
"""

from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from typing import Any

from django.utils.translation import gettext, ngettext

from contractor.web import charts, moments
from contractor.web.charts import pen

Record = dict[str, Any]
#: Rows of the first page's list; the full list follows where there are more.
MOST_ON_COVER = 7
#: Addresses beyond these are not repeated in words: each stands in the tables.
MOST_ADDRESSES = 120


@dataclass(frozen=True)
class Edited:
    """What an amendment replaces, and what it changed."""

    revision: int
    fingerprint: str
    sealed_at: datetime
    changes: tuple[dict[str, str], ...]


@dataclass(frozen=True)
class Zone:
    """Devices of one area, in the order of the round."""

    name: str
    about: str
    devices: tuple[dict[str, Any], ...]

    @property
    def results(self) -> tuple[str, ...]:
        """How each stands."""
        return tuple(state_of(device["result"]) for device in self.devices)


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
    return moments.say_moment(at, record["property"].get("time_zone") or "UTC")


def group(fingerprint: str) -> str:
    """Set a fingerprint in groups of four, so that it can be read aloud."""
    return " ".join(fingerprint[at : at + 4] for at in range(0, len(fingerprint), 4))


def group_devices(record: Record) -> list[tuple[str, str, list[dict[str, Any]]]]:
    """Put the devices of each area together, in the order in which the areas first come."""
    found: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for device in record["devices"]:
        key = (device.get("area") or gettext("No zone named"), device.get("area_words") or "")
        found.setdefault(key, []).append(device)
    return [(name, about, devices) for (name, about), devices in found.items()]


def list_zones(record: Record) -> list[Zone]:
    """List the areas with their devices."""
    return [Zone(name, about, tuple(devices)) for name, about, devices in group_devices(record)]


def state_of(result: str) -> str:
    """Give a result as one that is printed; whatever is neither pass nor fail was not tested."""
    return result if result in ("pass", "fail") else "not_tested"


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
    return "; ".join(dict.fromkeys(said)) or gettext("no reason is on the record")


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
    devices = counts["devices"]
    if counts["passed"] == devices:
        said = ngettext("All %(count)s device passed.", "All %(count)s devices passed.", devices)
        return said % {"count": pen.say_count(devices)}
    parts = [gettext("%(count)s passed") % {"count": pen.say_count(counts["passed"])}]
    if counts["failed"]:
        parts.append(gettext("%(count)s failed") % {"count": pen.say_count(counts["failed"])})
    if counts["not_tested"]:
        left = ngettext(
            "%(count)s was not tested", "%(count)s were not tested", counts["not_tested"]
        )
        parts.append(left % {"count": pen.say_count(counts["not_tested"])})
    said = ngettext(
        "Of %(count)s device, %(results)s.", "Of %(count)s devices, %(results)s.", devices
    )
    return said % {"count": pen.say_count(devices), "results": pen.join_words(parts)}


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
