"""Read tablets, what they hold and what came of it."""

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db.models import (
    BooleanField,
    Count,
    Exists,
    ExpressionWrapper,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
)
from django.db.models.functions import Coalesce
from django.utils.translation import gettext, ngettext

from contractor.field.models import COUNTING as COUNTING
from contractor.field.models import (
    Applied,
    Blob,
    Holding,
    Photo,
    Received,
    Review,
    Tablet,
    TabletUse,
)
from contractor.register.models import Building, Device
from contractor.tenancy.models import Member
from contractor.visits.models import Entry, Visit, VisitState
from contractor.visits.queries import OPEN, as_statement

#: A tablet with a visit under way that has not spoken for so long is asked after.
SILENT = timedelta(hours=48)
Missing = (
    Tablet.DoesNotExist,
    Holding.DoesNotExist,
    Review.DoesNotExist,
    Photo.DoesNotExist,
)


def find_tablet(*, tablet_id: UUID, key_hash: str) -> Tablet | None:
    """Find the tablet that has this key, revoked or not."""
    return Tablet.objects.filter(pk=tablet_id, key_hash=key_hash).first()


def get_tablet(*, firm_id: UUID, tablet_id: UUID) -> Tablet:
    """Get one tablet."""
    return Tablet.objects.get(firm_id=firm_id, pk=tablet_id)


def find_sender(*, user_id: UUID) -> Member | None:
    """Find a person's seat in the active firm, also after they have left."""
    return Member.objects.filter(user_id=user_id).first()


def list_tablets(*, firm_id: UUID, now: datetime) -> QuerySet[Tablet]:
    """List the firm's tablets with how many entries came, those in use first.

    `is_silent`: it holds a visit that is under way and has not spoken for two days.
    """
    held = Holding.objects.filter(
        firm_id=firm_id, tablet=OuterRef("pk"), visit__state=VisitState.UNDER_WAY
    )
    return (
        Tablet.objects.filter(firm_id=firm_id)
        .annotate(
            came=Count("received__sequence", distinct=True),
            is_silent=ExpressionWrapper(
                Q(revoked_at=None, seen_at__lt=now - SILENT) & Exists(held), BooleanField()
            ),
        )
        .select_related("enrolled_by")
        .order_by("revoked_at", "name", "pk")
    )


def list_uses(*, tablet: Tablet) -> list[TabletUse]:
    """List who has been signed in on a tablet, the latest first."""
    found = TabletUse.objects.filter(firm_id=tablet.firm_id, tablet=tablet)
    return list(found.select_related("member").order_by("-last_at", "pk"))


def list_holdings(*, visit: Visit) -> list[Holding]:
    """List the tablets that hold a visit, with how many of its entries and photos are here."""
    found = Holding.objects.filter(firm_id=visit.firm_id, visit=visit)
    return list(_counted(found).order_by("tablet__name", "pk"))


def list_held(*, tablet: Tablet) -> list[Holding]:
    """List the visits that a tablet holds, the next first."""
    found = Holding.objects.filter(firm_id=tablet.firm_id, tablet=tablet)
    return list(_counted(found).order_by("-visit__planned_on", "pk"))


def _counted(found: QuerySet[Holding]) -> QuerySet[Holding]:
    return found.select_related("tablet", "visit", "visit__building", "packed_by")


def get_holding(*, firm_id: UUID, visit_id: UUID, tablet_id: UUID) -> Holding:
    """Get what one tablet holds of one visit."""
    return Holding.objects.select_related("tablet", "visit").get(
        firm_id=firm_id, visit_id=visit_id, tablet_id=tablet_id
    )


def count_here(*, holding: Holding) -> int:
    """Count a tablet's entries of a visit that are here, each once."""
    found = Received.objects.filter(
        firm_id=holding.firm_id, tablet_id=holding.tablet_id, visit_id=holding.visit_id
    )
    return found.values("entry_id").distinct().count()


def say_holding(*, holding: Holding) -> str:
    """Say what a tablet has announced of a visit, and what is here."""
    here = count_here(holding=holding)
    if holding.announced_at is None:
        return gettext("no contact since it took the visit; %(here)s entries are here.") % {
            "here": here
        }
    missing = holding.announced - here
    told = {"announced": holding.announced, "here": here, "missing": missing}
    if missing > 0:
        said = gettext("%(announced)s entries announced, %(here)s received, %(missing)s not.")
    else:
        said = gettext("%(announced)s entries announced, %(here)s received.")
    return said % told


def is_short(*, holding: Holding) -> bool:
    """Tell whether a tablet has announced more than is here, or has not spoken since it left."""
    return holding.announced_at is None or holding.announced > count_here(holding=holding)


def find_broken_link(*, tablet: Tablet) -> int | None:
    """Find the first entry of a tablet that does not follow the one before it; None if all do.

    Gaps are no broken links: what follows one cannot be checked until it is filled. Entries
    without a place in the row (number 0) follow nothing.
    """
    previous: tuple[int, str] = (0, "")
    rows = Received.objects.filter(firm_id=tablet.firm_id, tablet=tablet)
    for sequence, said, payload in rows.order_by("sequence", "received_at", "pk").values_list(
        "sequence", "hash", "payload"
    ):
        if sequence == previous[0] + 1 and json.loads(payload).get("prev") != previous[1]:
            return int(sequence)
        if sequence != previous[0]:
            previous = (sequence, said)
    return None


def list_photos(*, visit: Visit) -> list[Photo]:
    """List a visit's photos, each with whether it is here in whole."""
    whole = Blob.objects.filter(sha256=OuterRef("sha256"), completed_at__isnull=False)
    found = Photo.objects.filter(firm_id=visit.firm_id, visit=visit)
    return list(
        found.annotate(is_here=Exists(whole))
        .select_related("received", "received__author")
        .order_by("received__received_at", "pk")
    )


def list_photos_of(*, building: Building) -> QuerySet[Photo]:
    """List the photos of a building's visits that are here in whole, by visit."""
    whole = Blob.objects.filter(sha256=OuterRef("sha256"), completed_at__isnull=False)
    found = Photo.objects.filter(firm_id=building.firm_id, visit__building=building)
    return (
        found.filter(Exists(whole))
        .select_related("visit", "received", "received__author")
        .order_by("visit__planned_on", "received__made_at", "pk")
    )


def get_photo(*, firm_id: UUID, photo_id: UUID) -> Photo:
    """Get one photo."""
    return Photo.objects.select_related("visit").get(firm_id=firm_id, pk=photo_id)


def list_reviews(
    *, firm_id: UUID, visit: Visit | None = None, is_open: bool = True
) -> QuerySet[Review]:
    """List what waits for the office, or what it has decided, with `address` of its device; oldest
    first."""
    device = Device.objects.filter(firm_id=firm_id, pk=OuterRef("received__device_key"))
    found = Review.objects.filter(firm_id=firm_id, resolved_at__isnull=is_open).annotate(
        address=Coalesce(Subquery(device.values("address")), Value(""))
    )
    if visit is not None:
        found = found.filter(received__visit=visit)
    return found.select_related(
        "received",
        "received__author",
        "received__tablet",
        "received__visit",
        "received__visit__building",
        "resolved_by",
    ).order_by("opened_at", "received__sequence", "pk")


def get_review(*, firm_id: UUID, review_id: UUID) -> Review:
    """Get one review with its entry."""
    return Review.objects.select_related("received", "received__visit").get(
        firm_id=firm_id, pk=review_id
    )


def list_gaps(*, tablet: Tablet, most: int = 20) -> list[int]:
    """List the numbers of a tablet's entries that are missing below one that is here."""
    later = (
        Received.objects.filter(firm_id=tablet.firm_id, tablet=tablet, sequence__gt=tablet.held)
        .order_by("sequence")
        .values_list("sequence", flat=True)
        .distinct()
    )
    gaps: list[int] = []
    expected = tablet.held + 1
    for sequence in later:
        gaps.extend(range(expected, min(sequence, expected + most)))
        expected = sequence + 1
        if len(gaps) >= most:
            break
    return gaps[:most]


def list_bypassed(*, visit: Visit) -> list[str]:
    """List what was bypassed or disconnected on a visit and is not restored."""
    logs = Received.objects.filter(
        Exists(Applied.objects.filter(received=OuterRef("pk"))),
        firm_id=visit.firm_id,
        visit=visit,
        kind="log",
    )
    opened: dict[str, str] = {}
    restored: set[str] = set()
    for row in logs.order_by("made_at", "pk"):
        body: dict[str, Any] = json.loads(row.payload).get("body", {})
        if body.get("what") == "bypassed":
            opened[str(row.entry_id)] = str(body.get("where") or body.get("words") or "something")
        elif body.get("what") == "restored":
            restored.add(str(body.get("of")))
    return [where for key, where in opened.items() if key not in restored]


def _stored() -> QuerySet[Received]:
    """List what is stored and neither counts nor is looked at."""
    return Received.objects.filter(
        ~Exists(Applied.objects.filter(firm_id=OuterRef("firm_id"), received=OuterRef("pk"))),
        ~Exists(Review.objects.filter(firm_id=OuterRef("firm_id"), received=OuterRef("pk"))),
    )


def list_stored(*, visit_id: UUID, most: int) -> list[Received]:
    """List what waits to be entered on a visit, each tablet's in the order it was made."""
    found = _stored().filter(visit_id=visit_id).select_related("author")
    return list(found.order_by("tablet_id", "sequence", "pk")[:most])


def count_stored(*, visit: Visit) -> int:
    """Count what waits to be entered on a visit."""
    return _stored().filter(firm_id=visit.firm_id, visit=visit).count()


def list_visits_with_stored(*, firm_id: UUID, since: datetime) -> list[UUID]:
    """List the visits on which something waits: those that are open, and what came lately."""
    found = _stored().filter(Q(visit__state__in=OPEN) | Q(received_at__gte=since), firm_id=firm_id)
    return [key for key in found.values_list("visit_id", flat=True).distinct() if key]


@dataclass(frozen=True)
class Passed:
    """What one tablet learns of the work of others."""

    entries: list[dict[str, Any]]
    cursor: int
    last: str
    online: list[dict[str, Any]] | None  # None: as before
    online_count: int
    state: str
    reviews: list[dict[str, str]]  # what the office looks at of this tablet's own


def list_passed(
    *, visit: Visit, tablet: Tablet, after: int, online_known: int, most: int = 500
) -> Passed:
    """List the entries of others on a visit after a cursor, and what was entered online."""
    rows = list(
        Applied.objects.filter(firm_id=visit.firm_id, visit=visit, number__gt=after)
        .select_related("received", "received__author")
        .order_by("number")[:most]
    )
    entries = [
        {
            **json.loads(row.received.payload),
            "author_name": row.received.author.name if row.received.author else "",
            "made_at": row.received.made_at.isoformat(),
        }
        for row in rows
        if row.received.tablet_id != tablet.pk
    ]
    online = Entry.objects.filter(firm_id=visit.firm_id, visit=visit, tablet="")
    count = online.count()
    stated = None
    if count != online_known:
        stated = [
            _stated(entry)
            for entry in online.select_related("member", "reading").order_by("stored_at", "pk")
        ]
    last = rows[-1] if rows else None
    return Passed(
        entries=entries,
        cursor=last.number if last else after,
        last=str(last.received_id) if last else "",
        online=stated,
        online_count=count,
        state=visit.state,
        reviews=[
            {
                "id": str(review.received.entry_id),
                "why": review.why,
                "said": review.sentence or str(review.get_why_display()),
            }
            for review in Review.objects.filter(
                firm_id=visit.firm_id,
                received__visit=visit,
                received__tablet=tablet,
                resolved_at=None,
            ).select_related("received")
        ],
    )


def _stated(entry: Entry) -> dict[str, Any]:
    said = as_statement(entry)
    return {
        "id": said.id,
        "device": said.device if entry.device_id else None,
        "kind": entry.kind,
        "task": said.task,
        "result": said.result,
        "stage": said.stage,
        "reason": said.reason,
        "author_name": said.author,
        "value": said.value,
        "verdict": entry.reading.verdict if entry.reading else "",
        "supersedes": sorted(str(key) for key in said.supersedes),
        "made_at": entry.made_at.isoformat(),
        "text": entry.text,
    }


def knows_cursor(*, visit_id: UUID, cursor: int, last: str) -> bool:
    """Tell whether this server passed on what a tablet says it took last.

    After a restore the same number may belong to another entry, or to none.
    """
    if cursor <= 0:
        return True
    found = Applied.objects.filter(visit_id=visit_id, number=cursor).first()
    return found is not None and (not last or str(found.received_id) == last)


def list_barriers(visit: Visit) -> list[str]:
    """List what the tablets of a visit still stand in the way of its sign-off for."""
    said = []
    for holding in list_holdings(visit=visit):
        if holding.excused_at is not None:
            continue
        gaps = list_gaps(tablet=holding.tablet)
        if is_short(holding=holding):
            short = gettext(
                "%(tablet)s: %(holding)s Let it send, or say on the visit's tablets page why it is "
                "signed off without."
            )
            told = {"tablet": holding.tablet.name, "holding": say_holding(holding=holding)}
            said.append(short % told)
        elif gaps:
            gap = gettext("%(tablet)s: its entry %(entry)s is missing here.")
            said.append(gap % {"tablet": holding.tablet.name, "entry": gaps[0]})
    missing = sum(not photo.is_here for photo in list_photos(visit=visit))  # type: ignore[attr-defined]
    if missing:
        photos = ngettext(
            "%(count)s photo is still on a tablet.",
            "%(count)s photos are still on a tablet.",
            missing,
        )
        said.append(photos % {"count": missing})
    waiting = list_reviews(firm_id=visit.firm_id, visit=visit).count()
    if waiting:
        reviews = ngettext(
            "%(count)s entry waits for review on the visit's tablets page.",
            "%(count)s entries wait for review on the visit's tablets page.",
            waiting,
        )
        said.append(reviews % {"count": waiting})
    stored = count_stored(visit=visit)
    if stored:
        entered = ngettext(
            "%(count)s entry is here and still being entered. Look again in a minute.",
            "%(count)s entries are here and still being entered. Look again in a minute.",
            stored,
        )
        said.append(entered % {"count": stored})
    if open_ones := list_bypassed(visit=visit):
        still = gettext("Still bypassed or disconnected: %(points)s.")
        said.append(still % {"points": "; ".join(open_ones)})
    return said
