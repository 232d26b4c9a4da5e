"""Judge detectors' readings by what is marked on their products."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from contractor.engine import sensitivity
from contractor.register.models import Device, Product


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


class Marks(NamedTuple):
    """What a product says of its detectors. [%/ft]"""

    low: float | None = None
    high: float | None = None
    compensation_limit: float | None = None
    limit_share_of_setting: float = 0.5
    nearing_share: float = 0.75

    @classmethod
    def of(cls, product: Product | None) -> "Marks":
        """Take them from a product; without one, the usual shares hold."""
        if product is None:
            return cls()
        return cls(
            _float(product.marked_low),
            _float(product.marked_high),
            _float(product.compensation_limit),
            float(product.limit_share_of_setting),
            float(product.nearing_share),
        )


class Terms(NamedTuple):
    """All that one reading is judged by, as `sensitivity.judge` takes it."""

    measured: float | None
    setting: float | None
    drift: float | None
    allowance_used: float | None
    control_unit_says: bool | None
    marked_low: float | None
    marked_high: float | None
    compensation_limit: float | None
    limit_share_of_setting: float
    nearing_share: float

    @property
    def limit(self) -> float | None:
        """How far it may correct: as stated, or as a share of its setting. [%/ft]"""
        if self.compensation_limit is not None:
            return self.compensation_limit
        if self.setting is not None and 0 < self.setting < 100:
            return self.limit_share_of_setting * self.setting
        return None


def _float(value: Any) -> float | None:
    return None if value is None else float(value)


def terms_of(*, evidence: Evidence, marks: Marks, setting: float | None) -> Terms:
    """Say by what a reading is judged.

    Marks that were printed are on that very detector, so they outrank the product's. A limit that
    the product states wins over a printed one. The setting on the list holds where none is read.
    """
    limit = marks.compensation_limit
    return Terms(
        measured=evidence.measured,
        setting=evidence.setting if evidence.setting is not None else setting,
        drift=evidence.drift,
        allowance_used=evidence.used,
        control_unit_says=evidence.control_unit_says,
        marked_low=evidence.marked_low if evidence.marked_low is not None else marks.low,
        marked_high=evidence.marked_high if evidence.marked_high is not None else marks.high,
        compensation_limit=limit if limit is not None else evidence.limit,
        limit_share_of_setting=marks.limit_share_of_setting,
        nearing_share=marks.nearing_share,
    )


def judge_device(*, device: Device, evidence: Evidence) -> Judged:
    """Judge one reading of one device."""
    terms = terms_of(
        evidence=evidence, marks=Marks.of(device.product), setting=_float(device.setting)
    )
    return Judged(
        sensitivity.judge(**terms._asdict()),
        terms.setting,
        terms.limit,
        terms.marked_low,
        terms.marked_high,
    )


def judge_many(terms: Sequence[Terms]) -> sensitivity.Verdicts:
    """Judge many readings at once, in their order."""
    columns = zip(*terms, strict=True) if terms else ([] for _ in Terms._fields)
    return sensitivity.judge_many(**dict(zip(Terms._fields, map(list, columns), strict=True)))
