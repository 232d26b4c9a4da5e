"""Enrol tablets, know who uses them, and end that."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from contractor.field.models import EnrolmentCode, Holding, Ledger, Tablet, TabletUse
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.visits.models import Visit

CODE_HOLDS_FOR = timedelta(minutes=30)


class UnableToEnrol(Exception):
    """The tablet cannot be enrolled so; the text says what is so and what to do."""


def hash_key(key: str) -> str:
    """Hash what a tablet proves itself by; only the hash is kept."""
    return hashlib.sha256(key.encode()).hexdigest()


@transaction.atomic
def make_code(*, name: str, member: Member, now: datetime) -> tuple[str, EnrolmentCode]:
    """Make the eight digits for one tablet; they are shown once and hold for half an hour.

    Raises
    ------
    UnableToEnrol
        If the tablet is given no name.
    """
    if not name.strip():
        raise UnableToEnrol("Give the tablet a name that is written on it, such as Tablet 3.")
    code = f"{secrets.randbelow(10**8):08d}"
    made = EnrolmentCode.objects.create(
        firm_id=member.firm_id,
        code_hash=hash_key(code),
        name=name.strip()[:80],
        made_at=now,
        made_by=member,
        ends_at=now + CODE_HOLDS_FOR,
    )
    write_audit(member=member, action="tablet.code_made", subject=made, summary=name, now=now)
    return code, made


@transaction.atomic
def enrol(*, code: str, member: Member, now: datetime) -> tuple[Tablet, str]:
    """Enrol a tablet by its code; answer it with the key that it keeps.

    Raises
    ------
    UnableToEnrol
        If the code is unknown, used or too old.
    """
    digits = "".join(character for character in code if character.isdigit())
    made = (
        EnrolmentCode.objects.select_for_update()
        .filter(code_hash=hash_key(digits), tablet=None, ends_at__gt=now)
        .first()
    )
    if made is None:
        raise UnableToEnrol(
            "This code is not known, was used, or is older than 30 minutes. Have the office make"
            " a new one under Tablets."
        )
    key = secrets.token_urlsafe(32)
    tablet = Tablet.objects.create(
        firm_id=member.firm_id,
        name=made.name,
        key_hash=hash_key(key),
        enrolled_at=now,
        enrolled_by=member,
        seen_at=now,
    )
    made.tablet = tablet
    made.save(update_fields=["tablet"])
    use(tablet=tablet, member=member, now=now)
    write_audit(member=member, action="tablet.enrolled", subject=tablet, summary=made.name, now=now)
    return tablet, key


def use(*, tablet: Tablet, member: Member, now: datetime) -> None:
    """Note that a member is signed in on a tablet."""
    known = TabletUse.objects.filter(tablet=tablet, member=member)
    if not known.update(last_at=now):
        TabletUse.objects.get_or_create(
            firm_id=tablet.firm_id,
            tablet=tablet,
            member=member,
            defaults={"first_at": now, "last_at": now},
        )


@transaction.atomic
def revoke(*, tablet: Tablet, member: Member, now: datetime) -> Tablet:
    """Revoke a tablet: it gets no more work; what it still holds comes in for review."""
    tablet = Tablet.objects.select_for_update(of=("self",)).get(pk=tablet.pk)
    if tablet.revoked_at is None:
        tablet.revoked_at, tablet.revoked_by = now, member
        tablet.save(update_fields=["revoked_at", "revoked_by"])
        write_audit(member=member, action="tablet.revoked", subject=tablet, now=now)
    return tablet


@dataclass(frozen=True)
class Announced:
    """What a tablet says of one visit: how many entries and photos it has made."""

    visit_id: UUID
    entries: int
    photos: int


@transaction.atomic
def greet(
    *,
    tablet: Tablet,
    member: Member,
    now: datetime,
    made: int,
    app_version: str,
    is_protected: bool | None,
    announced: list[Announced],
) -> Ledger:
    """Note a tablet's contact and what it announces, before anything is sent."""
    Tablet.objects.filter(pk=tablet.pk).update(
        seen_at=now, announced=made, app_version=app_version[:20], is_protected=is_protected
    )
    use(tablet=tablet, member=member, now=now)
    for one in announced:
        Holding.objects.filter(tablet=tablet, visit_id=one.visit_id).update(
            announced=one.entries, photos=one.photos, announced_at=now
        )
    return get_ledger(firm_id=tablet.firm_id)


def get_ledger(*, firm_id: UUID) -> Ledger:
    """Get the firm's ledger; the first contact of a tablet makes it."""
    ledger, _ = Ledger.objects.get_or_create(firm_id=firm_id)
    return ledger


@transaction.atomic
def hold(*, tablet: Tablet, visit: Visit, member: Member, now: datetime) -> Holding:
    """Note that a tablet takes a visit with it."""
    holding, made = Holding.objects.get_or_create(
        firm_id=tablet.firm_id,
        tablet=tablet,
        visit=visit,
        defaults={"packed_at": now, "packed_by": member},
    )
    if not made:
        holding.packed_at, holding.packed_by = now, member
        holding.save(update_fields=["packed_at", "packed_by"])
    return holding


def note_backup(*, firm_id: UUID, taken_at: datetime) -> None:
    """Note that a backup holds everything up to a moment; tablets may then let go of it."""
    ledger = get_ledger(firm_id=firm_id)
    ledger.backed_up_to = taken_at
    ledger.save(update_fields=["backed_up_to"])


def note_restore(*, firm_id: UUID) -> UUID:
    """Begin a new epoch after a restore: every tablet then offers what it still holds."""
    ledger = get_ledger(firm_id=firm_id)
    ledger.epoch, ledger.backed_up_to = uuid7(), None
    ledger.save(update_fields=["epoch", "backed_up_to"])
    return ledger.epoch
