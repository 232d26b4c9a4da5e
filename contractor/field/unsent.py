"""Find work that stays on a tablet: announced and not come, or a tablet that no longer speaks."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, TypedDict
from uuid import UUID

from django.db.models import Count, F, Max, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from contractor.field.models import Holding, Received
from contractor.field.queries import SILENT
from contractor.visits.models import VisitState

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

#: What was announced and does not come for so long is asked after.
STUCK = timedelta(hours=24)


class _Counted(TypedDict):
    came: int
    last_came: datetime


@dataclass(frozen=True)
class Unsent:
    """A visit that a tablet holds and does not deliver.

    `missing` counts the announced entries that are not here: 0 where a tablet is only silent, since
    what it made after its last word nobody can count. `since` is the last time something came.
    """

    holding: Holding
    missing: int
    is_silent: bool
    since: datetime


def list_unsent(*, firm_id: UUID, now: datetime) -> list[Unsent]:
    """List what stays on tablets of the firm's open visits, the longest waiting first.

    Either entries are announced and none has come for a day, or the visit is under way and its
    tablet has not spoken for two. Tablets revoked or excused were already decided about.
    """
    return sorted(
        (
            Unsent(
                holding=one,
                missing=max(0, one.announced - one.came),
                is_silent=_is_silent(one, now),
                since=one.last_came,
            )
            for one in _open(firm_id)
            if _is_silent(one, now) or (one.announced > one.came and one.last_came < now - STUCK)
        ),
        key=lambda one: one.since,
    )


def _is_silent(holding: Holding, now: datetime) -> bool:
    seen_at = holding.tablet.seen_at
    under_way = holding.visit.state == VisitState.UNDER_WAY
    return under_way and seen_at is not None and seen_at < now - SILENT


def _open(firm_id: UUID) -> "QuerySet[WithAnnotations[Holding, _Counted]]":
    here = (
        Received.objects.filter(
            firm_id=firm_id, tablet_id=OuterRef("tablet_id"), visit_id=OuterRef("visit_id")
        )
        .order_by()
        .values("tablet_id")
    )
    return (
        Holding.objects.filter(
            firm_id=firm_id,
            visit__state__in=[VisitState.UNDER_WAY, VisitState.TO_REVIEW],
            excused_at=None,
            tablet__revoked_at=None,
        )
        .annotate(
            came=Coalesce(
                Subquery(here.annotate(n=Count("entry_id", distinct=True)).values("n")), 0
            ),
            last_came=Coalesce(
                Subquery(here.annotate(at=Max("received_at")).values("at")), F("packed_at")
            ),
        )
        .select_related("tablet", "visit", "visit__building", "packed_by__user")
        .order_by("pk")
    )
