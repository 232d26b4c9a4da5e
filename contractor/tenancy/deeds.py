"""Change several things at once, so that it can be undone; keep lists under a name."""

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import parse_qsl, urlencode
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor.tenancy.models import AuditLine, Deed, Member, SavedList
from contractor.tenancy.services import write_audit

#: How long what was done to several things can be undone with one button.
UNDO_WITHIN = timedelta(minutes=10)
#: Lists that can be kept, by the name of their address.
LISTS: Mapping[str, str] = {
    "register:buildings": "Buildings",
    "register:customers": "Customers",
    "schedule:due": "What falls due",
    "visits:list": "Visits",
    "findings:list": "Findings",
    "agreements:list": "Agreements",
    "drift:fleet": "Drift",
    "alarms:firm": "Unwanted alarms",
    "power:firm": "Battery sets",
    "reports:list": "Reports",
    "notices:list": "Notices",
    "search:not_reached": "What was not accessible",
}
_NO_FILTER = {"page", "as"}


class UnableToDo(Exception):
    """It cannot be done so; the text says what is so and what to do."""


@dataclass(frozen=True)
class Change:
    """What one of several things is, and what it would become."""

    id: UUID
    name: str
    before: Any  # as JSON holds it
    after: Any

    @property
    def is_one(self) -> bool:
        """Whether anything differs."""
        return bool(self.before != self.after)


def fingerprint(changes: Sequence[Change]) -> str:
    """Sum up what would change, so that only what was seen is done."""
    said = json.dumps([[str(one.id), one.before, one.after] for one in changes], sort_keys=True)
    return hashlib.sha256(said.encode()).hexdigest()[:32]


@transaction.atomic
def keep_deed(
    *,
    kind: str,
    subject: str,
    summary: str,
    changes: Sequence[Change],
    member: Member,
    now: datetime,
) -> Deed:
    """Keep what was done to several things, so that it can be undone.

    One audit line tells of all, and one stands in the history of each.
    """
    _tell_each(kind, subject, [one for one in changes if one.is_one], member, now)
    deed = Deed.objects.create(
        firm_id=member.firm_id,
        kind=kind,
        summary=summary[:200],
        changes=[
            {"id": str(one.id), "name": one.name, "before": one.before, "after": one.after}
            for one in changes
            if one.is_one
        ],
        done_by=member,
        done_at=now,
    )
    write_audit(member=member, action=kind, subject=deed, summary=summary, now=now)
    return deed


def _tell_each(
    action: str, subject: str, changes: Sequence[Change], member: Member, now: datetime
) -> None:
    AuditLine.objects.bulk_create(
        [
            AuditLine(
                firm_id=member.firm_id,
                member=member,
                actor=member.name,
                action=action,
                subject=subject,
                subject_id=one.id,
                summary="one of several",
                before=one.before,
                after=one.after,
                at=now,
            )
            for one in changes
        ],
        batch_size=1000,
    )


@transaction.atomic
def undo_deed(
    *,
    deed: Deed,
    subject: str,
    put_back: Callable[[UUID, Any, Any], bool],
    member: Member,
    now: datetime,
) -> tuple[int, list[str]]:
    """Put back what a deed changed, each only where it still is as the deed left it.

    Answers how many were put back, and the names of those that were changed since. `put_back`
    gets key, before and after, and answers whether it did.

    Raises
    ------
    UnableToDo
        If it was undone already, or the time for it is over.
    """
    deed = Deed.objects.select_for_update().get(pk=deed.pk)
    if deed.undone_at is not None:
        raise UnableToDo("This has been undone already.")
    if now - deed.done_at > UNDO_WITHIN:
        minutes = int(UNDO_WITHIN.total_seconds() // 60)
        raise UnableToDo(
            gettext("It is more than %(minutes)s minutes ago. Change each of them on its own page.")
            % {"minutes": minutes}
        )
    left, back = [], []
    for one in deed.changes:
        key = UUID(one["id"])
        if put_back(key, one["before"], one["after"]):
            back.append(Change(key, one["name"], one["after"], one["before"]))
        else:
            left.append(one["name"])
    _tell_each(f"{deed.kind}_undone", subject, back, member, now)
    deed.undone_at = now
    deed.save(update_fields=["undone_at"])
    write_audit(
        member=member,
        action=f"{deed.kind}_undone",
        subject=deed,
        summary=deed.summary,
        now=now,
    )
    return len(back), left


@transaction.atomic
def keep_list(
    *, page: str, name: str, query: str, is_shared: bool, member: Member, now: datetime
) -> SavedList:
    """Keep a list with its filters under a name; the same name again takes the new filters.

    Raises
    ------
    UnableToDo
        If there is no such list, or it has no name.
    """
    name = " ".join(name.split())[:60]
    if page not in LISTS:
        raise UnableToDo("This page cannot be kept under a name.")
    if not name:
        raise UnableToDo("Give the list a name, such as: impairments, nobody told.")
    pairs = [(key, value) for key, value in parse_qsl(query) if key not in _NO_FILTER]
    kept, _ = SavedList.objects.update_or_create(
        firm_id=member.firm_id,
        page=page,
        name=name,
        owner=None if is_shared else member,
        defaults={"query": urlencode(pairs)[:1000], "kept_by": member, "kept_at": now},
    )
    return kept


@transaction.atomic
def forget_list(*, saved: SavedList) -> None:
    """Forget a list that was kept."""
    saved.delete()
