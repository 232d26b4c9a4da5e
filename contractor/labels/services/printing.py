"""Give devices their codes and lay a run of labels down for printing."""

import secrets
from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext, ngettext

from contractor.engine import label_codes
from contractor.labels import queries, sheets
from contractor.labels.models import Binding, Label, PrintedLabel, PrintRun
from contractor.labels.stocks import STOCKS
from contractor.register.models import Building, Device
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit

#: More than this in one run is a mistake of the hand, or better done floor by floor.
MOST_LABELS = 500


class UnableToPrint(Exception):
    """The run cannot be laid out so; the text says what is so and what to do."""


@transaction.atomic
def print_labels(
    *,
    firm_id: UUID,
    building: Building | None,
    devices: Sequence[Device],
    empty: int,
    stock: str,
    first: int,
    reason: str,
    member: Member,
    now: datetime,
) -> PrintRun:
    """Lay a run down: a label for each device, then empty ones that are bound on the spot.

    A device without a label of ours gets a code; one that has it is printed again with the same.

    Raises
    ------
    UnableToPrint
        If there is nothing or too much to print, the sheet has no such place, or a label is printed
        again and no reason is given.
    """
    chosen = STOCKS.get(stock)
    if chosen is None:
        raise UnableToPrint("Choose the size of the labels.")
    if not 1 <= first <= chosen.per_page:
        raise UnableToPrint(
            gettext("A page of %(name)s has the places 1 to %(per_page)s; %(first)s is none.")
            % {"name": chosen.name, "per_page": chosen.per_page, "first": first}
        )
    if not devices and empty < 1:
        raise UnableToPrint("Nothing is chosen. Choose devices, or how many empty labels.")
    if len(devices) + empty > MOST_LABELS:
        raise UnableToPrint(
            gettext(
                "That is %(empty)s labels; %(most_labels)s go into one run. Choose a floor"
                " or a kind at a time."
            )
            % {"empty": len(devices) + empty, "most_labels": MOST_LABELS}
        )
    kept = _labels_of(firm_id, devices)
    printed = set(
        PrintedLabel.objects.filter(firm_id=firm_id, label__in=kept.values()).values_list(
            "label_id", flat=True
        )
    )
    again = [one for one in devices if one.pk in kept and kept[one.pk].pk in printed]
    if again and not reason.strip():
        raise UnableToPrint(
            ngettext(
                "%(count)s of these labels was printed before. Say why, for the log.",
                "%(count)s of these labels were printed before. Say why, for the log.",
                len(again),
            )
            % {"count": len(again)}
        )
    new = _draw(firm_id, len(devices) - len(kept) + empty, member, now)
    given = {one.pk: new.pop() for one in devices if one.pk not in kept}
    for one in devices:
        if one.pk in given:
            given[one.pk].device = one
    return _lay_down(
        rows=[
            *((kept.get(one.pk) or given[one.pk], one.address, _say_place(one)) for one in devices),
            *((label, "", "") for label in new),
        ],
        given=list(given.values()),
        run=PrintRun(
            id=uuid7(),
            firm_id=firm_id,
            building=building,
            stock=stock,
            first=first,
            again=len(again),
            reason=reason.strip()[:200],
            printed_by=member,
            printed_at=now,
        ),
    )


@transaction.atomic
def print_again(
    *, run: PrintRun, first: int, reason: str, member: Member, now: datetime
) -> PrintRun:
    """Lay the same labels down once more, as a run of its own in the log.

    Raises
    ------
    UnableToPrint
        If no reason is given, or the sheet has no such place.
    """
    chosen = STOCKS[run.stock]
    if not reason.strip():
        raise UnableToPrint("Say why it is printed again, for the log.")
    if not 1 <= first <= chosen.per_page:
        raise UnableToPrint(
            gettext("A page of %(name)s has the places 1 to %(per_page)s; %(first)s is none.")
            % {"name": chosen.name, "per_page": chosen.per_page, "first": first}
        )
    rows = PrintedLabel.objects.filter(run=run).select_related("label").order_by("place")
    return _lay_down(
        rows=[(row.label, row.address, row.text) for row in rows if not row.label.retired_at],
        given=[],
        run=PrintRun(
            id=uuid7(),
            firm_id=run.firm_id,
            building_id=run.building_id,
            stock=run.stock,
            first=first,
            again=run.count,
            reason=reason.strip()[:200],
            printed_by=member,
            printed_at=now,
        ),
    )


def _labels_of(firm_id: UUID, devices: Sequence[Device]) -> dict[UUID | None, Label]:
    """Find each device's label of ours, the newest where it has several."""
    rows = Label.objects.filter(firm_id=firm_id, device__in=devices, is_ours=True)
    return {row.device_id: row for row in rows.order_by("made_at", "pk")}


def _draw(firm_id: UUID, count: int, member: Member, now: datetime) -> list[Label]:
    """Draw new codes; the unique key refuses one that the firm has had before."""
    made: list[Label] = []
    while len(made) < count:
        codes = {label_codes.draw_code(secrets.randbelow) for _ in range(count - len(made))}
        codes -= set(
            Label.objects.filter(firm_id=firm_id, code__in=codes).values_list("code", flat=True)
        )
        made += Label.objects.bulk_create(
            Label(firm_id=firm_id, code=code, is_ours=True, made_at=now, made_by=member)
            for code in codes
        )
    return made


def _say_place(device: Device) -> str:
    area = device.area.name if device.area else ""
    return ", ".join(part for part in (device.label, area) if part)[:200]


def _lay_down(
    *, rows: Sequence[tuple[Label, str, str]], given: Sequence[Label], run: PrintRun
) -> PrintRun:
    """Write the run down, and the first binding of codes that were drawn for a device."""
    run.count = len(rows)
    run.save(force_insert=True)
    Label.objects.bulk_update(given, ["device"], batch_size=500)
    Binding.objects.bulk_create(
        Binding(
            firm_id=run.firm_id,
            label=label,
            device_id=label.device_id,
            reason="printed for it",
            bound_by=run.printed_by,
            bound_at=run.printed_at,
            stored_at=run.printed_at,
        )
        for label in given
    )
    PrintedLabel.objects.bulk_create(
        PrintedLabel(
            firm_id=run.firm_id, run=run, label=label, place=place, address=address, text=text
        )
        for place, (label, address, text) in enumerate(rows)
    )
    write_audit(
        member=run.printed_by,
        action="labels.printed",
        subject=run,
        summary=f"{run.count} labels, {STOCKS[run.stock].name}. {run.reason}".strip(),
        now=run.printed_at,
    )
    return run


def draw_run(*, run: PrintRun, server: str) -> bytes:
    """Draw a run's labels onto their stock, as PDF; the server's address goes into the squares."""
    return sheets.draw(
        stock=STOCKS[run.stock],
        first=run.first,
        labels=[
            sheets.Printed(row.label.code, row.address, row.text)
            for row in queries.list_printed(run=run)
        ],
        server=server,
        title=f"Labels, {run.building.name if run.building else 'without a device'}",
    )
