"""What a record says of its detectors: readings, verdicts, drift, when each is tested next."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext, gettext_noop, ngettext

from contractor.reports.contents import Record, as_day
from contractor.web import charts
from contractor.web.charts import pen
from contractor.web.charts.range_bar import NEARING_SHARE

BASIS = {
    "first_year": gettext_noop("within the first year"),
    "alternate_year": gettext_noop("every alternate year"),
    "extended": gettext_noop("the longer interval of five years"),
    "restart": gettext_noop("alternate years again, after a failure"),
    "nuisance_increase": gettext_noop("nuisance alarms have risen"),
    "annual": gettext_noop("every year"),
}
#: Drawings of drift beyond these would bury the rest; the tables hold every detector.
MOST_DRAWINGS = 24
_NEARING, _OUT = "nearing_limit", "out_of_range"


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
        return write_number(point_of(self.reading))

    @property
    def corrected(self) -> str:
        """What the control unit corrects [%/ft]."""
        return write_number(self.reading.get("drift"), places=2)

    @property
    def used(self) -> str:
        """How much of the allowance is used, in percent."""
        used = self.reading.get("used")
        return "" if used is None else f"{used * 100:.0f} %"

    @property
    def word(self) -> str:
        """Its verdict in one or two words."""
        return gettext_noop("nearing") if self.reading["verdict"] == _NEARING else ""

    @property
    def remarks(self) -> list[str]:
        """Why it is not well, who judged otherwise, and what was left."""
        reading, said = self.reading, []
        # Of one that nears its limit the row's own numbers say why.
        if reading["verdict"] in (_OUT, "not_judged") and reading.get("reason"):
            said.append(str(reading["reason"]).rstrip("."))
        if reading.get("override_reason"):
            said.append(
                gettext("verdict by the technician: %(reason)s")
                % {"reason": reading["override_reason"]}
            )
        if self.as_left is not None:
            said.append(say_as_left(self.as_left))
        return said

    @property
    def marked(self) -> str:
        """The range that is marked on it [%/ft]."""
        low, high = (write_number(self.reading.get(key)) for key in ("marked_low", "marked_high"))
        if low and high:
            return f"{low}–{high}"
        return gettext("to %(high)s") % {"high": high} if high else gettext("none")

    @property
    def due_on(self) -> date | None:
        """The latest day of its next sensitivity test."""
        return as_day((self.device.get("next") or {}).get("due_on"))


@dataclass(frozen=True)
class NextTest:
    """Detectors whose next sensitivity test falls on one day for one reason."""

    due_on: date
    basis: str
    clause: str
    reasons: tuple[tuple[date, str], ...]
    addresses: tuple[str, ...]


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
    point = point_of(reading)
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


def say_as_left(reading: dict[str, Any]) -> str:
    """Say the reading that was taken after the work."""
    said = write_number(point_of(reading))
    drift = write_number(reading.get("drift"), places=2)
    parts = [
        f"{said} %/ft" if said else "",
        gettext("%(drift)s corrected") % {"drift": drift} if drift else "",
    ]
    shown = ", ".join(part for part in parts if part)
    return gettext("as left: %(shown)s, %(verdict)s") % {
        "shown": shown or gettext("read"),
        "verdict": gettext(reading["verdict"].replace("_", " ")),
    }


def say_reading(reading: dict[str, Any]) -> str:
    """Say one reading in a line: when, how, what was found, the marks, the verdict and why."""
    on = as_day(reading.get("taken_on"))
    point, drift = write_number(point_of(reading)), write_number(reading.get("drift"), places=2)
    low, high = (write_number(reading.get(key)) for key in ("marked_low", "marked_high"))
    parts = [
        f"{point} %/ft" if point else "",
        gettext("%(drift)s corrected") % {"drift": drift} if drift else "",
        gettext("marked %(low)s to %(high)s") % {"low": low, "high": high} if low and high else "",
        gettext(str(reading["verdict"]).replace("_", " ")),
    ]
    stage = gettext("as left") if reading["stage"] == "as_left" else gettext("as found")
    when = f"{pen.say_day(on)}, {stage}" if on else stage
    reason = str(reading.get("reason") or "").rstrip(".")
    how = ", ".join(part for part in (reading.get("method"), reading.get("instrument")) if part)
    return (
        f"{when}: {', '.join(part for part in parts if part)}"
        f"{', ' + gettext('by %(method)s') % {'method': how} if how else ''}."
        f"{f' {reason}.' if reason else ''}"
    )


def point_of(reading: dict[str, Any]) -> float | None:
    """Give the alarm point [%/ft], measured or else as set."""
    measured = reading.get("measured")
    return reading.get("setting") if measured is None else measured


def write_number(value: float | None, *, places: int | None = None) -> str:
    """Write a quantity; without places, at least one and as many as it has."""
    if value is None:
        return ""
    if places is not None:
        return pen.say_exact(value, places=places)
    if abs(value * 10 - round(value * 10)) < 1e-9:
        return pen.say_exact(value, places=1)
    return pen.say_plain(value, "{:.4g}")


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
        ngettext("%(count)s was %(state)s", "%(count)s were %(state)s", counts[key])
        % {"count": pen.say_count(counts[key]), "state": gettext(words)}
        for key, words in (
            ("in_range", gettext_noop("in range")),
            ("nearing", gettext_noop("nearing the limit")),
            ("out", gettext_noop("out of range")),
            ("not_judged", gettext_noop("not judged")),
        )
        if counts.get(key)
    ]
    if not said:
        return ""
    whole = ngettext(
        "Of %(count)s detector that were read, %(results)s.",
        "Of %(count)s detectors that were read, %(results)s.",
        read,
    )
    return whole % {"count": pen.say_count(read), "results": pen.join_words(said)}


def say_verdicts(rows: Iterable[Row]) -> list[str]:
    """Say how many detectors stand where, in words; states without any are left out."""
    words = {
        "in_range": gettext("in range"),
        _NEARING: gettext("nearing"),
        _OUT: gettext("out of range"),
        "not_judged": gettext("not judged"),
    }
    found = [row.reading["verdict"] for row in rows]
    return [f"{found.count(key)} {word}" for key, word in words.items() if key in found]


def say_methods(rows: Iterable[Row]) -> str:
    """Say by which methods detectors were read."""
    found = (row.reading.get("method", "") for row in rows)
    return ", ".join(dict.fromkeys(method for method in found if method))


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
        NextTest(due_on, gettext(BASIS.get(basis, basis)), clause, reasons, tuple(addresses))
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
