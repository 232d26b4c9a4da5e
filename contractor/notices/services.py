"""Owe notices, send each once, and let people decide where it is not known."""

import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.core import signing
from django.db import transaction
from django.db.models import F
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext

from contractor import jobs
from contractor.notices import bouncing
from contractor.notices.letters import LINK, Letter
from contractor.notices.models import ASKED, KEPT, Notice, NoticeKind, NoticeState, Refusal, Wish
from contractor.notices.posting import Fate, Post
from contractor.people.services import address_of as address_to_join
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Firm, Member
from contractor.tenancy.services import write_audit

#: How often a mail that was surely not taken is tried, and how long is waited in between.
TRIES = 6
WAITS = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 15, 60, 180))
#: A claim this old belongs to a sender that is gone.
SILENT = timedelta(minutes=10)
_SALT = "notices.unsubscribe"


class UnableToSend(Exception):
    """The notice cannot be sent so; the text says what is so and what to do."""


@dataclass(frozen=True)
class Recipient:
    """Whom a notice goes to."""

    address: str
    name: str = ""


@transaction.atomic
def owe(
    *,
    firm_id: UUID,
    kind: str,
    object_id: UUID,
    occurrence: str,
    to: Sequence[Recipient],
    write: Callable[[], Letter],
    now: datetime,
    not_before: datetime | None = None,
) -> int:
    """Owe a notice to each of some people, once for this occurrence; tell how many are new.

    The row stands in the caller's transaction: with the event it is about, or not at all. Asked
    again, nothing more is owed, nor written. People who do not want the kind get a row that says
    so. Whoever has a seat and has chosen a language is written to in it, the rest in the firm's.
    """
    same = Notice.objects.filter(
        firm_id=firm_id, kind=kind, object_id=object_id, occurrence=occurrence
    )
    known = set(same.values_list("recipient", flat=True))
    people = {one.address.strip().lower(): one for one in to if one.address.strip()}
    people = {address: one for address, one in people.items() if address not in known}
    if not people:
        return 0
    refused = set(
        Refusal.objects.filter(firm_id=firm_id, kind=kind, address__in=people).values_list(
            "address", flat=True
        )
    )
    returned = bouncing.list_returned(firm_id=firm_id, addresses=people)
    letters = _write_each(write, tenancy.map_languages(firm_id=firm_id, addresses=list(people)))
    rows = [
        Notice(
            firm_id=firm_id,
            kind=kind,
            object_id=object_id,
            occurrence=occurrence,
            recipient=address,
            name=one.name[:120],
            subject=" ".join(letters[address].subject.split())[:200],
            body=letters[address].body,
            html=letters[address].html,
            not_before=not_before or now,
            state=_first_state(address, kind, refused, returned),
            owed_at=now,
        )
        for address, one in people.items()
    ]
    for row in rows:
        row.message_id = f"<{row.pk}@{_host()}>"
    Notice.objects.bulk_create(rows, ignore_conflicts=True)
    owed = same.count() - len(known)
    if owed:
        jobs.enqueue("notices.send", firm_id=firm_id)
    return owed


def _write_each(write: Callable[[], Letter], languages: dict[str, str]) -> dict[str, Letter]:
    """Write a letter once in each language, and give it by address."""
    written = {}
    for language in set(languages.values()):
        with translation.override(language or translation.get_language()):
            written[language] = write()
    return {address: written[language] for address, language in languages.items()}


def _first_state(address: str, kind: str, refused: set[str], returned: set[str]) -> str:
    if address in refused and kind not in KEPT:
        return NoticeState.UNWANTED
    return NoticeState.HELD if address in returned else NoticeState.QUEUED


def _host() -> str:
    return settings.DEFAULT_FROM_EMAIL.rpartition("@")[2].strip("> ") or "localhost"


def claim(*, firm_id: UUID, now: datetime) -> Notice | None:
    """Claim the next notice that waits, so that nobody else sends it. Commit before sending."""
    found = (
        Notice.objects.select_for_update(skip_locked=True)
        .filter(firm_id=firm_id, state=NoticeState.QUEUED, not_before__lte=now)
        .order_by("not_before", "pk")
        .first()
    )
    if found is None:
        return None
    found.state, found.claimed_at = NoticeState.SENDING, now
    found.tries += 1
    found.save(update_fields=["state", "claimed_at", "tries"])
    return found


def deliver(*, notice: Notice, post: Post, slug: str) -> Fate:
    """Hand a claimed notice to the mail server. No transaction is open meanwhile."""
    unsubscribe = ""
    if notice.kind == NoticeKind.INVITATION:
        # Put in here and not kept: who reads the outbox must not be able to take the seat.
        notice.body = notice.body.replace(LINK, address_to_join(slug=slug, key=notice.object_id))
    if notice.kind not in KEPT:
        unsubscribe = address_to_unsubscribe(slug=slug, address=notice.recipient, kind=notice.kind)
    return post.send(notice=notice, unsubscribe=unsubscribe)


@transaction.atomic
def mark(*, notice: Notice, fate: Fate, now: datetime) -> None:
    """Write down what became of a notice; only of the claim it belongs to."""
    mine = Notice.objects.filter(
        firm_id=notice.firm_id,
        pk=notice.pk,
        state=NoticeState.SENDING,
        claimed_at=notice.claimed_at,
    )
    if fate.word == "sent":
        mine.update(state=NoticeState.SENT, sent_at=now, problem="")
    elif fate.word == "again" and notice.tries < TRIES:
        wait = WAITS[min(notice.tries, len(WAITS)) - 1]
        mine.update(state=NoticeState.QUEUED, not_before=now + wait, problem=fate.problem)
    elif fate.word == "unknown":
        mine.update(state=NoticeState.UNKNOWN, problem=fate.problem)
    else:
        mine.update(state=NoticeState.FAILED, problem=fate.problem)


def sweep(*, firm_id: UUID, now: datetime) -> int:
    """Find claims whose sender is gone: it is not known whether the mail went out."""
    return Notice.objects.filter(
        firm_id=firm_id, state=NoticeState.SENDING, claimed_at__lt=now - SILENT
    ).update(
        state=NoticeState.UNKNOWN,
        problem="Its sender ended while it was being sent. It may have arrived.",
    )


@transaction.atomic
def resend(*, notice: Notice, member: Member, now: datetime) -> Notice:
    """Send a notice again that failed, or of which it is not known; a person decides so.

    Raises
    ------
    UnableToSend
        If it was sent, or waits already.
    """
    notice = Notice.objects.select_for_update(of=("self",)).get(pk=notice.pk)
    if not notice.is_uncertain:
        raise UnableToSend(
            gettext("It is %(state)s. Only what failed is sent again.")
            % {"state": gettext(notice.get_state_display())}
        )
    notice.state, notice.not_before, notice.resent_by = NoticeState.QUEUED, now, member
    notice.tries = 0
    notice.save(update_fields=["state", "not_before", "resent_by", "tries"])
    write_audit(
        member=member,
        action="notice.resent",
        subject=notice,
        summary=f"{notice.subject}, to {notice.recipient}",
        now=now,
    )
    jobs.enqueue("notices.send", firm_id=notice.firm_id)
    return notice


@transaction.atomic
def settle(*, notice: Notice, member: Member, now: datetime) -> Notice:
    """Say that a notice of which it was not known did arrive.

    Raises
    ------
    UnableToSend
        If it is not one of those.
    """
    notice = Notice.objects.select_for_update(of=("self",)).get(pk=notice.pk)
    if not notice.is_uncertain:
        raise UnableToSend(
            gettext("It is %(state)s; nothing is to be decided.")
            % {"state": gettext(notice.get_state_display())}
        )
    notice.state, notice.resent_by = NoticeState.SENT, member
    notice.problem = f"{member.name} says that it arrived. {notice.problem}"[:400]
    notice.save(update_fields=["state", "resent_by", "problem"])
    write_audit(
        member=member,
        action="notice.settled",
        subject=notice,
        summary=f"{notice.subject}, to {notice.recipient}",
        now=now,
    )
    return notice


@transaction.atomic
def want(
    *, firm_id: UUID, address: str, kinds: Sequence[str], optional: Sequence[str], now: datetime
) -> None:
    """Keep which of the optional kinds a person wants."""
    address = address.strip().lower()
    Refusal.objects.filter(firm_id=firm_id, address=address, kind__in=kinds).delete()
    for asked in ASKED:
        if asked in kinds:
            Wish.objects.get_or_create(
                firm_id=firm_id, address=address, kind=asked, defaults={"wished_at": now}
            )
        else:
            Wish.objects.filter(firm_id=firm_id, address=address, kind=asked).delete()
    for kind in optional:
        if kind not in kinds and kind not in KEPT and kind not in ASKED:
            Refusal.objects.get_or_create(
                firm_id=firm_id, address=address, kind=kind, defaults={"refused_at": now}
            )


def address_to_unsubscribe(*, slug: str, address: str, kind: str) -> str:
    """Give the address at which a person ends a kind of mail, without signing in."""
    token = signing.dumps([slug, address, kind], salt=_SALT)
    return settings.BASE_URL + reverse("unsubscribe", args=[token])


@dataclass(frozen=True)
class Unsubscription:
    """Who wants to end what."""

    firm: Firm
    address: str
    kind: str


def read_token(*, token: str) -> Unsubscription | None:
    """Read what stands in an unsubscribe address; None where it was not made here."""
    try:
        slug, address, kind = signing.loads(token, salt=_SALT)
    except (signing.BadSignature, ValueError):
        return None
    firm = Firm.objects.filter(slug=slug).first()
    return Unsubscription(firm, address, kind) if firm else None


@transaction.atomic
def unsubscribe(*, firm_id: UUID, address: str, kind: str, now: datetime) -> None:
    """End a kind of mail for a person. Doing so twice changes nothing more."""
    Wish.objects.filter(firm_id=firm_id, address=address.lower(), kind=kind).delete()
    Refusal.objects.get_or_create(
        firm_id=firm_id, address=address.lower(), kind=kind, defaults={"refused_at": now}
    )
    Notice.objects.filter(
        firm_id=firm_id, recipient=address.lower(), kind=kind, state=NoticeState.QUEUED
    ).update(state=NoticeState.UNWANTED, tries=F("tries"))


def object_of_day(*, firm_id: UUID) -> UUID:
    """Give the object of notices that are about the firm as a whole."""
    return uuid.uuid5(firm_id, "firm")
