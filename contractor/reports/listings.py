"""What a record says of each device, as its list and as the table that is handed over show it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.utils.translation import gettext, override

from contractor.reports.contents import Record, say_why, state_of
from contractor.reports.detectors import BASIS, point_of, say_as_left


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
        kind=gettext(device["kind_words"]),
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
        found.setdefault(state_of(state["result"]), []).append(task)
    return tuple(
        Done(", ".join(gettext(name) for name in names), key) for key, names in found.items()
    )


RESULT_HEADS = (
    *("address", "place", "area", "kind", "product", "serial", "result", "reason", "by"),
    *("stage", "alarm_point_pct_ft", "corrected_pct_ft", "limit_pct_ft", "used"),
    *("marked_low_pct_ft", "marked_high_pct_ft", "verdict", "method", "instrument", "read_on"),
    *("next_sensitivity_by", "basis", "clause"),
)


def list_results(record: Record) -> Iterator[tuple[Any, ...]]:
    """List the results of a record, a row for each reading or, without one, for each device."""
    for device in record["devices"]:
        with override(settings.LANGUAGE_CODE):  # a file that programs read
            why = "" if device["result"] == "pass" else say_why(device)
        following = device.get("next") or {}
        by = dict.fromkeys(name for one in device["tasks"].values() if (name := one.get("by")))
        for reading in device.get("readings") or [{}]:
            yield (
                *(device["address"], device.get("label"), device.get("area")),
                *(device["kind_words"], device.get("product"), device.get("serial")),
                device["result"],
                why,
                ", ".join(by),
                *(reading.get("stage"), point_of(reading), reading.get("drift")),
                *(reading.get("limit"), reading.get("used"), reading.get("marked_low")),
                *(reading.get("marked_high"), reading.get("verdict"), reading.get("method")),
                *(reading.get("instrument"), reading.get("taken_on"), following.get("due_on")),
                *(BASIS.get(following.get("basis", ""), ""), following.get("clause")),
            )
