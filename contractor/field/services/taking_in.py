"""Take in what tablets send: everything is stored, each entry gets its answer.

The server never says no to a technician's work. What cannot count is kept and looked at. Whether
the rest can be entered on its visit shows a moment later (entering.py).
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5

from django.db import connection, transaction

from contractor.field.canonical import canonical, hash_entry
from contractor.field.clocks import correct
from contractor.field.models import Photo, Received, Review, Tablet, Why
from contractor.field.services.applying import Refused
from contractor.field.services.entering import apply_soon, list_same_ids, open_review
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Member
from contractor.visits.models import Visit

#: The forms of an entry that this server reads.
FORMS = (1,)
MOST_ENTRIES = 50
_NAMELESS = UUID("5d2f9a52-6f0e-5b0e-9d6e-3c1f6f1c0a11")
_INSERT = """
    insert into field_received (id, firm_id, entry_id, hash, tablet_id, sequence, visit_id,
        device_key, author_id, sent_by_id, kind, payload, made_at, clock_off_s, received_at)
    select * from unnest(%s::uuid[], %s::uuid[], %s::uuid[], %s::text[], %s::uuid[], %s::int[],
        %s::uuid[], %s::uuid[], %s::uuid[], %s::uuid[], %s::text[], %s::text[],
        %s::timestamptz[], %s::int[], %s::timestamptz[])
    on conflict (firm_id, entry_id, hash) do nothing returning id
"""


@dataclass(frozen=True)
class Answer:
    """What became of one entry: stored, already, or review with its reason."""

    entry_id: str
    answer: str
    why: str = ""
    sentence: str = ""


@dataclass
class _Incoming:
    entry: Mapping[str, Any]
    row: Received
    is_sealed: bool  # its hash is the hash of what came


@transaction.atomic
def take_in(
    *,
    tablet: Tablet,
    sender: Member,
    entries: Sequence[Any],
    now: datetime,
    sent_wall_ms: int | None = None,
) -> list[Answer]:
    """Store a batch in one transaction and answer each entry, in the order sent.

    Sending again is harmless: the unique key stops what is here already. A large batch is entered
    on its visit afterwards; what cannot be is told to the tablet with what others stated.
    """
    # The tablet's row is the lock: its batches come one after the other.
    tablet = Tablet.objects.select_for_update(of=("self",)).get(pk=tablet.pk)
    known = _Known.of(entries)
    incoming = [_understand(tablet, sender, one, now, sent_wall_ms, known) for one in entries]
    new = _store(incoming)
    _list_photos(one for one in incoming if one.row.pk in new)
    fresh = [one for one in incoming if one.row.pk in new]
    twice = list_same_ids([one.row for one in fresh])
    authors = {sender.pk, *tablet.tabletuse_set.values_list("member_id", flat=True)}
    touched = set()
    for one in fresh:
        if refused := _look(one, tablet, authors, twice):
            open_review(one.row, refused, now)
        elif one.row.visit_id is not None:
            touched.add(one.row.visit_id)
    _advance(tablet)
    apply_soon(firm_id=tablet.firm_id, visit_ids=touched, many=len(fresh), now=now)
    return _answer(incoming, new)


def _uuid(value: Any) -> UUID | None:
    try:
        return UUID(value) if isinstance(value, str) else None
    except ValueError:
        return None


def _whole(value: Any) -> int | None:
    return value if isinstance(value, int) and not isinstance(value, bool) else None


@dataclass(frozen=True)
class _Known:
    """The visits and members that a batch names and this server has."""

    visits: set[UUID]
    members: dict[UUID, Member]

    @classmethod
    def of(cls, entries: Sequence[Any]) -> "_Known":
        said = [one for one in entries if isinstance(one, dict)]
        visits = {_uuid(one.get("visit")) for one in said} - {None}
        members = {_uuid(one.get("author")) for one in said} - {None}
        return cls(
            set(Visit.objects.filter(pk__in=visits).values_list("pk", flat=True)),
            Member.objects.in_bulk(members),
        )


def _understand(
    tablet: Tablet,
    sender: Member,
    said: Any,
    now: datetime,
    sent_wall_ms: int | None,
    known: _Known,
) -> _Incoming:
    entry: Mapping[str, Any] = said if isinstance(said, dict) else {"sent": said}
    found = hash_entry(entry)
    entry_id = _uuid(entry.get("id"))
    time = entry.get("time")
    made_at, off = correct(
        time=time if isinstance(time, dict) else {}, sent_wall_ms=sent_wall_ms, now=now
    )
    sequence = _whole(entry.get("seq"))
    is_sealed = (
        entry.get("hash") == found
        and entry_id is not None
        and sequence is not None
        and 0 < sequence < 2**31
        and entry.get("tablet") == str(tablet.pk)
    )
    visit_id, author_id = _uuid(entry.get("visit")), _uuid(entry.get("author"))
    row = Received(
        id=uuid7(),
        firm_id=tablet.firm_id,
        entry_id=entry_id or uuid5(_NAMELESS, found),
        hash=found,
        tablet=tablet,
        sequence=sequence if sequence is not None and 0 < sequence < 2**31 else 0,
        visit_id=visit_id if visit_id in known.visits else None,
        device_key=_uuid(entry.get("device")),
        author=known.members.get(author_id) if author_id else None,
        sent_by=sender,
        kind=str(entry.get("kind", ""))[:20],
        # PostgreSQL stores neither the zero character nor half of a pair.
        payload=canonical(entry).replace("\\u0000", "").encode("utf-8", "replace").decode(),
        made_at=made_at,
        clock_off_s=off,
        received_at=now,
    )
    return _Incoming(entry, row, is_sealed)


def _store(incoming: Sequence[_Incoming]) -> set[UUID]:
    """Insert what is new; answer the keys of those rows."""
    if not incoming:
        return set()
    rows = [one.row for one in incoming]
    columns: list[Any] = [
        [row.pk for row in rows],
        [row.firm_id for row in rows],
        [row.entry_id for row in rows],
        [row.hash for row in rows],
        [row.tablet_id for row in rows],
        [row.sequence for row in rows],
        [row.visit_id for row in rows],
        [row.device_key for row in rows],
        [row.author_id for row in rows],
        [row.sent_by_id for row in rows],
        [row.kind for row in rows],
        [row.payload for row in rows],
        [row.made_at for row in rows],
        [row.clock_off_s for row in rows],
        [row.received_at for row in rows],
    ]
    with connection.cursor() as cursor:
        cursor.execute(_INSERT, columns)
        return {row[0] for row in cursor.fetchall()}


def _list_photos(incoming: Iterable[_Incoming]) -> None:
    listed = []
    for one in incoming:
        photos = one.entry.get("photos")
        for photo in photos if isinstance(photos, list) else []:
            sha256 = photo.get("sha256") if isinstance(photo, dict) else None
            length = _whole(photo.get("length")) if isinstance(photo, dict) else None
            if isinstance(sha256, str) and len(sha256) == 64 and length and 0 < length < 2**31:
                listed.append(
                    Photo(
                        firm_id=one.row.firm_id,
                        received=one.row,
                        visit_id=one.row.visit_id,
                        sha256=sha256,
                        length=length,
                    )
                )
    Photo.objects.bulk_create(listed, ignore_conflicts=True)


def _look(one: _Incoming, tablet: Tablet, authors: set[UUID], twice: set[UUID]) -> Refused | None:
    """Say why an entry is looked at before it counts; None where it may."""
    row = one.row
    if not one.is_sealed:
        return Refused(Why.BROKEN)
    if row.entry_id in twice:
        return Refused(Why.SAME_ID)
    if one.entry.get("form") not in FORMS:
        return Refused(Why.FORM)
    if tablet.revoked_at is not None:
        return Refused(Why.TABLET_REVOKED)
    author = row.author
    if author is None:
        return Refused(Why.AUTHOR_UNKNOWN)
    if author.left_on is not None:
        return Refused(Why.AUTHOR_LEFT, f"{author.name} left on {author.left_on:%-d %b %Y}.")
    if author.pk not in authors:
        return Refused(Why.AUTHOR_UNPROVEN)
    if row.visit_id is None:
        return Refused(Why.VISIT_UNKNOWN)
    return None


def _advance(tablet: Tablet) -> None:
    """Move the number up to which nothing of this tablet is missing."""
    held = tablet.held
    for sequence in (
        Received.objects.filter(tablet=tablet, sequence__gt=held)
        .order_by("sequence")
        .values_list("sequence", flat=True)
        .distinct()
    ):
        if sequence != held + 1:
            break
        held = sequence
    if held != tablet.held:
        Tablet.objects.filter(pk=tablet.pk).update(held=held)


def _answer(incoming: Sequence[_Incoming], new: set[UUID]) -> list[Answer]:
    known = {(one.row.entry_id, one.row.hash): one.row.pk for one in incoming if one.row.pk in new}
    if len(known) < len(incoming):
        old = [one.row.entry_id for one in incoming if one.row.pk not in new]
        for entry_id, found, key in Received.objects.filter(entry_id__in=old).values_list(
            "entry_id", "hash", "pk"
        ):
            known[entry_id, found] = key
    keys = [known[one.row.entry_id, one.row.hash] for one in incoming]
    reviews = {
        review.received_id: review
        for review in Review.objects.filter(received_id__in=keys, resolved_at=None)
    }
    answers = []
    for one, key in zip(incoming, keys, strict=True):
        said = one.entry.get("id")
        review = reviews.get(key)
        if review is not None:
            answer, why = "review", review.why
            sentence = review.sentence or str(review.get_why_display())
        else:
            answer, why, sentence = "stored" if one.row.pk in new else "already", "", ""
        answers.append(Answer(str(said), answer, why, sentence))
    return answers


def read_batch(body: bytes) -> tuple[list[Any], int | None]:
    """Read a posted batch: its entries, and the tablet's clock at sending.

    Raises
    ------
    ValueError
        If it is no batch, or holds more than a batch may.
    """
    try:
        batch = json.loads(body)
    except (ValueError, RecursionError):
        raise ValueError("This is no JSON.") from None
    entries = batch.get("entries") if isinstance(batch, dict) else None
    if not isinstance(entries, list) or len(entries) > MOST_ENTRIES:
        raise ValueError(f"A batch is a list of at most {MOST_ENTRIES} entries.")
    return entries, _whole(batch.get("wall_ms"))
