"""Judge one detector's reading by what is marked on its product."""

from dataclasses import dataclass
from typing import Any

from contractor.engine import sensitivity
from contractor.register.models import Device


@dataclass(frozen=True)
class Evidence:
    """What one reading says. [%/ft]; used is a share, 0 to 1. None: not known."""

    measured: float | None = None
    setting: float | None = None
    present: float | None = None
    drift: float | None = None
    used: float | None = None
    limit: float | None = None
    marked_low: float | None = None
    marked_high: float | None = None
    control_unit_says: bool | None = None


@dataclass(frozen=True)
class Judged:
    """A verdict with the marks and the limit that it was judged by. [%/ft]"""

    verdict: sensitivity.Verdict
    setting: float | None
    limit: float | None
    marked_low: float | None
    marked_high: float | None


def _float(value: Any) -> float | None:
    return None if value is None else float(value)


def judge_device(*, device: Device, evidence: Evidence) -> Judged:
    """Judge one reading: what is marked on the product counts, and a stated limit wins.

    Where the print-out states marks or a limit of its own, those hold for a detector without a
    product.
    """
    product = device.product
    setting = evidence.setting if evidence.setting is not None else _float(device.setting)
    low = _float(product.marked_low) if product else None
    high = _float(product.marked_high) if product else None
    if low is None and high is None:
        low, high = evidence.marked_low, evidence.marked_high
    share = float(product.limit_share_of_setting) if product else 0.5
    nearing = float(product.nearing_share) if product else 0.75
    limit = _float(product.compensation_limit) if product else None
    if limit is None:
        limit = evidence.limit
    verdict = sensitivity.judge(
        measured=evidence.measured,
        setting=setting,
        drift=evidence.drift,
        allowance_used=evidence.used,
        control_unit_says=evidence.control_unit_says,
        marked_low=low,
        marked_high=high,
        compensation_limit=limit,
        limit_share_of_setting=share,
        nearing_share=nearing,
    )
    if limit is None and setting is not None and 0 < setting < 100:
        limit = share * setting
    return Judged(verdict, setting, limit, low, high)
