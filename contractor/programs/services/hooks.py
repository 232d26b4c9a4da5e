"""Add hooks, owe them what happens, and write down what became of it."""

import json
from base64 import b64encode
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import urlsplit
from uuid import UUID

from django.db import transaction
from django.utils.crypto import salted_hmac

from contractor import jobs
from contractor.programs.models import Delivery, DeliveryState, Hook
from contractor.programs.services.errors import UnableToMake
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit

#: When a failed delivery is tried again; after the last one it is given up. Common practice.
RETRIES = tuple(
    timedelta(seconds=s) for s in (5, 60, 300, 1800, 7200, 14_400, 21_600, 21_600, 21_600)
)
#: How long a claim holds; a worker that was killed loses its turn after it.
CLAIMED_FOR = timedelta(minutes=2)
KEPT_FOR = timedelta(days=30)
MOST_HOOKS = 20
SECRET_BEGINS = "whsec_"


def secret_of(hook: Hook) -> str:
    """Give the secret that signs what a hook is sent; derived from SECRET_KEY, kept nowhere."""
    derived = salted_hmac("programs.hook", hook.pk.hex, algorithm="sha256").digest()
    return f"{SECRET_BEGINS}{b64encode(derived).decode()}"


@transaction.atomic
def add_hook(*, url: str, events: Sequence[str], member: Member, now: datetime) -> Hook:
    """Tell an address from now on what happens.

    Raises
    ------
    UnableToMake
        If it is no https address, carries a name and password, or there are too many.
    """
    parts = urlsplit(url)
    if parts.scheme != "https" or not parts.hostname or parts.username or parts.password:
        raise UnableToMake(
            "Give an address that begins with https:// and holds no name or password."
        )
    if Hook.objects.filter(ended_at=None).count() >= MOST_HOOKS:
        raise UnableToMake(f"{MOST_HOOKS} addresses are told already. End one first.")
    hook = Hook.objects.create(
        firm_id=member.firm_id, url=url, events=sorted(set(events)), made_by=member, made_at=now
    )
    write_audit(member=member, action="hook.added", subject=hook, summary=url, now=now)
    return hook


@transaction.atomic
def end_hook(*, hook: Hook, member: Member, now: datetime) -> Hook:
    """Tell an address nothing more; what still waits is not sent."""
    locked = Hook.objects.select_for_update().get(pk=hook.pk)
    if locked.ended_at is None:
        locked.ended_at = now
        locked.save(update_fields=["ended_at"])
        write_audit(member=member, action="hook.ended", subject=locked, summary=hook.url, now=now)
    return locked


def tell(*, firm_id: UUID, event: str, data: dict[str, Any], now: datetime) -> int:
    """Owe every hook that wants it one event, in the transaction of the deed; tell how many."""
    wanting = [
        hook
        for hook in Hook.objects.filter(firm_id=firm_id, ended_at=None)
        if not hook.events or any(event.startswith(f"{one}.") for one in hook.events)
    ]
    if not wanting:
        return 0
    event_id = uuid7()
    body = json.dumps(
        {"id": str(event_id), "event": event, "at": now.isoformat(), "data": data},
        separators=(",", ":"),
    )
    Delivery.objects.bulk_create(
        Delivery(
            firm_id=firm_id,
            hook=hook,
            event_id=event_id,
            event=event,
            body=body,
            owed_at=now,
            next_at=now,
        )
        for hook in wanting
    )
    jobs.enqueue("programs.deliver", firm_id=firm_id)
    return len(wanting)


def claim_delivery(*, now: datetime) -> Delivery | None:
    """Claim the next delivery of the active firm whose turn has come. Commit before it is sent."""
    found = (
        Delivery.objects.select_for_update(skip_locked=True, of=("self",))
        .select_related("hook")
        .filter(state=DeliveryState.WAITING, next_at__lte=now, hook__ended_at=None)
        .order_by("next_at", "pk")
        .first()
    )
    if found is not None:
        found.tries += 1
        found.next_at = now + CLAIMED_FOR
        found.save(update_fields=["tries", "next_at"])
    return found


def mark_delivery(
    *, delivery: Delivery, status: int | None, problem: str, now: datetime
) -> DeliveryState:
    """Write down how one try went, and when the next is; after the last it is given up."""
    took = status is not None and 200 <= status < 300
    facts: dict[str, Any] = {"status": status, "problem": "" if took else problem[:200]}
    if took:
        state, facts["sent_at"] = DeliveryState.SENT, now
    elif delivery.tries > len(RETRIES):
        state = DeliveryState.FAILED
    else:
        state, facts["next_at"] = DeliveryState.WAITING, now + RETRIES[delivery.tries - 1]
    Delivery.objects.filter(pk=delivery.pk, tries=delivery.tries).update(state=state, **facts)
    return state


@transaction.atomic
def replay(*, delivery: Delivery, member: Member, now: datetime) -> Delivery:
    """Send a delivery again, with the same event id, so that the other side can tell."""
    locked = Delivery.objects.select_for_update().get(pk=delivery.pk)
    locked.state, locked.tries, locked.next_at = DeliveryState.WAITING, 0, now
    locked.problem = ""
    locked.save(update_fields=["state", "tries", "next_at", "problem"])
    write_audit(
        member=member, action="delivery.replayed", subject=locked, summary=locked.event, now=now
    )
    jobs.enqueue("programs.deliver", firm_id=locked.firm_id)
    return locked


def sweep_deliveries(*, now: datetime) -> int:
    """Drop what was delivered or given up long ago; tell how many."""
    return (
        Delivery.objects.exclude(state=DeliveryState.WAITING)
        .filter(owed_at__lt=now - KEPT_FOR)
        .delete()[0]
    )
