"""Have what was stored count on its visit: at once where it is little, in the background else.

Storing never waits for this and never fails with it. What is stored and neither counts nor is
looked at still waits; sign-off waits with it.
"""

import logging
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from django.db import InterfaceError, OperationalError, transaction
from django.db.models import Max

from contractor import jobs
from contractor.field import queries
from contractor.field.models import Applied, Received, Review, Why
from contractor.field.services.applying import Refused, apply
from contractor.register.models import Device
from contractor.tenancy.models import Member
from contractor.visits import services as visits
from contractor.visits.models import Visit, VisitState

log = logging.getLogger(__name__)

#: So many are entered while the tablet waits for its answer; more are left to the background.
AT_ONCE = 10
#: So many are entered in one transaction in the background.
AT_A_TIME = 100


def apply_soon(*, firm_id: UUID, visit_ids: Iterable[UUID], many: int, now: datetime) -> None:
    """Enter what was just stored: at once if it is little and nobody else is at it.

    An error here, of whatever kind, leaves everything stored and to the background.
    """
    for visit_id in sorted(visit_ids):
        if many <= AT_ONCE:
            try:
                if not apply_stored(visit_id=visit_id, most=AT_ONCE, now=now, may_wait=False):
                    continue
            except Exception:
                log.exception("what was stored of visit %s is left to the background", visit_id)
        jobs.enqueue("field.apply_stored", firm_id=firm_id, visit_id=visit_id)


@transaction.atomic
def apply_stored(
    *, visit_id: UUID, now: datetime, most: int = AT_A_TIME, may_wait: bool = True
) -> bool:
    """Enter what waits on a visit, each tablet's in its order; answer whether any is left.

    Running it twice changes nothing more: the visit's row is the lock.
    """
    wanted = Visit.objects.filter(pk=visit_id).select_related("building")
    visit = wanted.select_for_update(of=("self",), skip_locked=not may_wait).first()
    if visit is None:
        return not may_wait
    found = queries.list_stored(visit_id=visit_id, most=most + 1)
    if not may_wait and len(found) > most:
        return True
    rows = found[:most]
    # Two tablets may have sent one id at the same moment, each unseen by the other.
    twice = list_same_ids(rows) if may_wait else set()
    turn = _Turn(visit, now)
    for row in rows:
        if row.entry_id in twice:
            open_review(row, Refused(Why.SAME_ID), now)
        else:
            _apply_one(row, turn)
    if turn.applied:
        _apply_waiting(turn)
    number_applied(turn.visit, turn.applied)
    visits.settle(visit=turn.visit, touched=turn.touched.values(), now=now)
    return len(found) > most


def list_same_ids(rows: Collection[Received]) -> set[UUID]:
    """List the entry ids that have two contents."""
    ids = [one.entry_id for one in rows]
    found = Received.objects.filter(entry_id__in=ids).values_list("entry_id", flat=True)
    return {key for key, times in Counter(found).items() if times > 1}


def open_review(row: Received, refused: Refused, now: datetime) -> None:
    """Have the office look at an entry."""
    Review.objects.get_or_create(
        firm_id=row.firm_id,
        received=row,
        defaults={
            "why": refused.why,
            "sentence": refused.sentence[:300],
            "opened_at": now,
        },
    )


@dataclass
class _Turn:
    """One visit's part of a batch: what came of it so far."""

    visit: Visit
    now: datetime
    touched: dict[UUID, tuple[Device, Member]] = field(default_factory=dict)
    applied: list[Received] = field(default_factory=list)


def _load(visit_id: UUID) -> Visit:
    return Visit.objects.select_related("building").get(pk=visit_id)


def _apply_waiting(turn: _Turn) -> None:
    """Try again what was refused for want of something else, as long as that gets further."""
    while True:
        open_ones = Review.objects.filter(
            received__visit_id=turn.visit.pk,
            why__in=(Why.REFUSED, Why.DEVICE_UNKNOWN),
            resolved_at=None,
        ).select_related("received", "received__author", "received__tablet")
        got_further = False
        for review in open_ones.order_by("received__tablet_id", "received__sequence", "pk"):
            if _apply_one(review.received, turn):
                review.delete()
                got_further = True
        if not got_further:
            return


def _apply_one(row: Received, turn: _Turn) -> bool:
    assert row.author is not None  # looked at before
    was_handed_in = turn.visit.state == VisitState.TO_REVIEW
    try:
        device = apply(received=row, visit=turn.visit, member=row.author)
    except Refused as refused:
        open_review(row, refused, turn.now)
        return False
    except (OperationalError, InterfaceError):
        raise  # the database is gone, not the entry wrong
    except Exception:
        # It must not stand in the way of what comes after it.
        log.exception("entry %s could not be entered", row.entry_id)
        open_review(row, Refused(Why.REFUSED, "An error of this server kept it out."), turn.now)
        return False
    turn.applied.append(row)
    if device is not None:
        turn.touched[device.pk] = (device, row.author)
    if row.kind in ("begin", "hand_in"):
        turn.visit = _load(turn.visit.pk)
    elif was_handed_in and row.kind != "signature":
        open_review(row, Refused(Why.LATE), turn.now)
    return True


def number_applied(visit: Visit, rows: Sequence[Received]) -> None:
    """Note that entries count, with the next numbers of their visit. The visit is locked."""
    if not rows:
        return
    last = Applied.objects.filter(visit=visit).aggregate(last=Max("number"))["last"] or 0
    Applied.objects.bulk_create(
        Applied(firm_id=row.firm_id, received=row, visit=visit, number=number)
        for number, row in enumerate(rows, start=last + 1)
    )
