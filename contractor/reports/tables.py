"""The long tables of the reports as sheets: what did not pass, every device, every reading."""

from collections.abc import Iterator, Mapping
from datetime import timedelta
from typing import Any

from django.utils.translation import gettext, ngettext, pgettext

from contractor.reports import contents, detectors, listings
from contractor.reports.sheets import (
    Column,
    Legend,
    Paragraph,
    Picture,
    Row,
    Sheet,
    Table,
    Words,
)
from contractor.web import charts
from contractor.web.charts.pen import say_count, say_day, say_devices, say_month_year

#: Room above a section that begins on the same page as the one before. [px]
APART, PART = 32.0, 22.0
#: A day beyond this is no news: it is not printed beside a verdict.
SOON = timedelta(days=5 * 365)
Record = contents.Record


def head(kind: str, title: str, note: str = "") -> Iterator[Paragraph]:
    """Set the head of a section: what it is about, its answer, a note."""
    yield Paragraph(kind, "kind", "ink2", before=APART, keep=True)
    yield Paragraph(title, "title", tag="H2", keep=True)
    if note:
        yield Paragraph(note, "note", "ink2", before=4, keep=True)


def absent(record: Record) -> Sheet:
    """List what did not pass and what was not tested, each with its reason."""
    found = contents.list_absent(record)
    of = record["counts"]["devices"]
    kind = ngettext("%(count)s of %(devices)s device", "%(count)s of %(devices)s devices", of) % {
        "count": say_count(len(found)),
        "devices": say_count(of),
    }
    columns = (
        Column(gettext("address"), share=0.14),
        Column(gettext("place and kind"), share=0.32),
        Column(gettext("result"), share=0.18),
        Column(gettext("why")),
    )

    def rows() -> Iterator[Row]:
        for device in found:
            place = ", ".join(part for part in (device["label"], device.get("area")) if part)
            yield Row(
                (
                    (Words(device["address"], "address"),),
                    (Words(place), Words(gettext(device["kind_words"]), tone="ink2")),
                    (Words("", state=device["result"], size=18),),
                    (Words(contents.say_why(device)),),
                )
            )

    def parts() -> Iterator[Any]:
        yield from head(kind, gettext("What did not pass, and what was not tested"))
        yield Table(columns, rows(), len(found))

    return Sheet("absent", parts())


def inventory(record: Record) -> Sheet:
    """List every device: where it is, what was done, with what result, by whom."""
    columns = (
        Column(gettext("address"), share=0.10),
        Column(gettext("place"), share=0.21),
        Column(gettext("kind, product, serial"), share=0.22),
        Column(gettext("result, and of what"), share=0.27),
        Column(gettext("by whom, remarks")),
    )

    def parts() -> Iterator[Any]:
        yield from head(
            gettext("Every device, with where it is and what was found"),
            contents.say_answer(record),
        )
        for name, about, devices in contents.group_devices(record):
            title = f"{name}{', ' if about else ''}{about}: {say_devices(len(devices))}"
            yield Paragraph(title, "part", tag="H3", before=PART, keep=True)
            yield Table(columns, (_listed(one, name) for one in devices), len(devices))

    return Sheet("inventory", parts())


def _listed(device: dict[str, Any], zone: str) -> Row:
    listed = listings.list_device(device)
    what = ", ".join(part for part in (listed.kind, listed.product, listed.serial) if part)
    tone = "ink2" if listed.is_well else "ink"
    said = [Words(listed.by)] if listed.by else []
    said += [Words(text, tone=tone) for text in listed.remarks]
    return Row(
        (
            (Words(listed.address, "address"),),
            (Words(listed.label or zone),),
            (Words(what),),
            tuple(Words(one.words, tone="ink2", state=one.key, size=14) for one in listed.done),
            tuple(said),
        )
    )


def sensitivity(record: Record, foreseen: Mapping[str, Any] | None = None) -> Sheet:
    """List every reading zone by zone: range, verdict, allowance used, next date.

    With a forecast, the verdict says when an even chance of running out is reached.
    """
    axis = Picture(charts.RangeAxis(), 150, 27)
    columns = (
        Column(gettext("address"), share=0.085),
        Column(gettext("place")),
        Column(gettext("marked"), share=0.08, at_right=True),
        Column("%/ft", share=0.05, at_right=True),
        Column(pgettext("sensitivity", "corrected"), share=0.09, at_right=True),
        Column(axis, width=158),
        Column(gettext("used"), share=0.06, at_right=True),
        Column(gettext("verdict"), share=0.138),
        Column(gettext("next test by"), share=0.105),
    )

    def parts() -> Iterator[Any]:
        for name, about, devices in contents.group_devices(record):
            rows = list(detectors.list_rows(devices))
            if not rows:
                continue
            many = ngettext("%(count)s detector", "%(count)s detectors", len(rows))
            many %= {"count": say_count(len(rows))}
            title = f"{many}: {', '.join(detectors.say_verdicts(rows))}"
            method = detectors.say_methods(rows)
            notes = [
                gettext("As found, unless “as left” is said."),
                gettext("Read by %(method)s.") % {"method": method} if method else "",
                gettext(
                    "Obscuration in %/ft; “corrected” is what the control unit takes off for "
                    "soiling."
                ),
            ]
            note = " ".join(filter(None, notes))
            where = gettext("Sensitivity, %(zone)s") % {
                "zone": f"{name}{', ' if about else ''}{about}"
            }
            yield from head(where, title, note)
            yield Table(columns, (_read(row, foreseen or {}) for row in rows), len(rows))
            yield _legend()

    return Sheet("sensitivity", parts())


def _legend() -> Legend:
    return Legend(
        (
            ("window", "ink", gettext("marked range")),
            ("bead", "ink", gettext("alarm point, as found")),
            ("tether", "ink", gettext("where it would stand uncorrected")),
            ("warning", "ochre", gettext("warning")),
            ("limit", "carmine", gettext("limit of correction")),
        )
    )


def _read(row: detectors.Row, foreseen: Mapping[str, Any]) -> Row:
    said = foreseen.get(row.device["id"])
    verdict = [Words("", state=row.reading["verdict"], word=gettext(row.word))]
    if said and said.p50 and said.p50 < said.on + SOON:
        verdict.append(
            Words(gettext("even %(month)s") % {"month": say_month_year(said.p50)}, "note", "ink2")
        )
    return Row(
        (
            (Words(row.device["address"], "address"),),
            (Words(row.device["label"]),),
            (Words(row.marked, "number"),),
            (Words(row.point, "number"),),
            (Words(row.corrected, "number"),),
            Picture(row.bar, 150, 24)
            if row.bar
            else (Words(gettext("no reading to draw"), "note", "ink2"),),
            (Words(row.used, "number"),),
            tuple(verdict),
            (Words(say_day(row.due_on) if row.due_on else ""),),
        ),
        more="; ".join(row.remarks),
    )


def devices(record: Record) -> Sheet:
    """List every device: where it is, what it is, what it hangs on, when it is tested next."""
    several = len({one.get("system") for one in record["devices"]}) > 1
    columns = (
        Column(gettext("address"), share=0.12),
        Column(gettext("place")),
        Column(gettext("kind"), share=0.16),
        Column(gettext("product"), share=0.18),
        Column(gettext("serial"), share=0.12),
        *((Column(gettext("system"), share=0.14),) if several else ()),
        Column(gettext("sensitivity by"), share=0.11),
    )

    def parts() -> Iterator[Any]:
        yield from head(gettext("Every device, with where it is"), gettext("The list"))
        for name, about, found in contents.group_devices(record):
            title = f"{name}{', ' if about else ''}{about}: {say_devices(len(found))}"
            yield Paragraph(title, "part", tag="H3", before=PART, keep=True)
            yield Table(columns, (_described(one, name, several) for one in found), len(found))

    return Sheet("devices", parts())


def _described(device: dict[str, Any], zone: str, several: bool) -> Row:
    due_on = contents.as_day((device.get("next") or {}).get("due_on"))
    said = [
        device.get("label") or zone,
        gettext(device["kind_words"]),
        device.get("product") or "",
        device.get("serial") or "",
        *([device.get("system") or ""] if several else []),
        say_day(due_on) if due_on else "",
    ]
    return Row(((Words(device["address"], "address"),), *((Words(text),) for text in said)))
