"""Say what a row of a file changes of its device, and what stood there before."""

from collections.abc import Mapping
from typing import Any

from contractor.readings.services import matching
from contractor.readings.services.listed import Listed
from contractor.readings.services.matching import Matched
from contractor.readings.services.printed import Printed


def changed_of(*, row: Printed, one: Matched) -> dict[str, Any]:
    """Give what a print-out has otherwise than the list of a device, under the list's names."""
    if one.device is None:
        return {}
    after: dict[str, Any] = {}
    label = matching.differing_label(said=one.said, device=one.device)
    if label and not row.corrected.get("keep_label"):
        after["label"] = label
    setting = matching.differing_setting(said=one.said, device=one.device)
    if setting is not None:
        after["setting"] = round(setting, 3)
    return after


def kept_of(*, device: Listed | None, after: Mapping[str, Any]) -> dict[str, Any]:
    """Give what is kept of a change with its row, so that it can be undone."""
    if device is None or not after:
        return {}
    before = {name: plain(getattr(device, name)) for name in after}
    return {"before": before, "after": {name: plain(value) for name, value in after.items()}}


def kept_with(row: Printed) -> dict[str, Any]:
    """Give what is kept with a row since it was last shown or accepted."""
    return {name: row.understood[name] for name in ("before", "after") if name in row.understood}


def plain(value: Any) -> str | None:
    """Write a value of the list as it is kept."""
    if value is None:
        return None
    return f"{value:g}" if isinstance(value, float) else str(value)
