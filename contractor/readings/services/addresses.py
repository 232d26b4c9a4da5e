"""Make and revoke the secret by which a system's print-outs come in; say what is expected."""

import hashlib
import re
import secrets
from collections.abc import Sequence
from datetime import date, datetime

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext

from contractor.readings.models import IntakeAddress
from contractor.register.models import System
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit

_LETTERS = "abcdefghijklmnopqrstuvwxyz234567"  # one case: mail servers may change it
SECRET_LENGTH = 20  # of 32 letters each: 100 bits
_SENDER = re.compile(r"[^@\s,;]*@[^@\s,;]+\.[^@\s,;]+")
_MOST_LOCAL = 64  # characters before the @ (RFC 5321, 4.5.3.1.1)
EXPECTED_MOST = 366


class UnableToSet(Exception):
    """What was said of a system's intake cannot be kept; the text says why."""


def hash_of(secret: str) -> str:
    """Give the hash under which a secret is kept; its letters count in either case."""
    return hashlib.sha256(secret.strip().lower().encode()).hexdigest()


def find_by_secret(*, secret: str) -> IntakeAddress | None:
    """Find the address, of the active firm, that this secret opens; None if it opens none."""
    if not re.fullmatch(rf"[{_LETTERS}]{{{SECRET_LENGTH}}}", secret.strip().lower()):
        return None
    return (
        IntakeAddress.objects.select_related("system", "system__building")
        .filter(secret_sha256=hash_of(secret))
        .first()
    )


def mail_address(*, slug: str, secret: str) -> str:
    """Give the mail address that a secret makes; empty where no mailbox is read.

    It is empty, too, where it would be longer than mail allows.
    """
    local, _, domain = settings.INTAKE_ADDRESS.rpartition("@")
    if not local or not domain:
        return ""
    whole = f"{local}+{slug}.{secret}"
    return f"{whole}@{domain}" if len(whole) <= _MOST_LOCAL else ""


@transaction.atomic
def make_secret(*, system: System, member: Member, now: datetime) -> tuple[IntakeAddress, str]:
    """Make a system's secret, in place of the one before; answer it, for it is shown once."""
    address = _locked(system)
    secret = "".join(secrets.choice(_LETTERS) for _ in range(SECRET_LENGTH))
    address.secret_sha256, address.hint = hash_of(secret), secret[-4:]
    address.made_at, address.made_by, address.last_used_at = now, member, None
    address.save(update_fields=["secret_sha256", "hint", "made_at", "made_by", "last_used_at"])
    write_audit(
        member=member,
        action="intake_address.made",
        subject=address,
        summary=f"{system.name}, ends in {address.hint}",
        now=now,
    )
    return address, secret


@transaction.atomic
def revoke_secret(*, system: System, member: Member, now: datetime) -> IntakeAddress:
    """Revoke a system's secret: mail to its address and calls with its key are refused."""
    address = _locked(system)
    if address.secret_sha256:
        address.secret_sha256 = ""
        address.save(update_fields=["secret_sha256"])
        write_audit(
            member=member,
            action="intake_address.revoked",
            subject=address,
            summary=f"{system.name}, ended in {address.hint}",
            now=now,
        )
    return address


@transaction.atomic
def set_ways(
    *,
    system: System,
    senders: Sequence[str],
    accepts_alone: bool,
    expected_days: int | None,
    member: Member,
    now: datetime,
    today: date,
) -> IntakeAddress:
    """Say whose mails are known, whether good print-outs are accepted alone, how often one is due.

    Raises
    ------
    UnableToSet
        If a sender is no mail address and no "@domain", or the days lie outside 1 to 366.
    """
    known = [one.strip().lower() for one in senders if one.strip()]
    for one in known:
        if not _SENDER.fullmatch(one):
            raise UnableToSet(
                gettext("%(value)s is no mail address. Write one like panel@example.org.")
                % {"value": one}
            )
    if expected_days is not None and not 1 <= expected_days <= EXPECTED_MOST:
        raise UnableToSet(
            gettext("Expect a print-out every 1 to %(expected_most)s days.")
            % {"expected_most": EXPECTED_MOST}
        )
    address = _locked(system)
    before = {
        "senders": address.senders,
        "accepts_alone": address.accepts_alone,
        "expected_days": address.expected_days,
    }
    if expected_days != address.expected_days:
        address.expected_since = today if expected_days else None
    address.senders, address.accepts_alone = known, accepts_alone
    address.expected_days = expected_days
    address.save(update_fields=["senders", "accepts_alone", "expected_days", "expected_since"])
    write_audit(
        member=member,
        action="intake_address.set",
        subject=address,
        summary=system.name,
        before=before,
        after={
            "senders": known,
            "accepts_alone": accepts_alone,
            "expected_days": expected_days,
        },
        now=now,
    )
    return address


def note_use(*, address: IntakeAddress, now: datetime) -> None:
    """Keep when a secret was last used."""
    IntakeAddress.objects.filter(pk=address.pk).update(last_used_at=now)


def _locked(system: System) -> IntakeAddress:
    IntakeAddress.objects.get_or_create(firm_id=system.firm_id, system=system)
    return IntakeAddress.objects.select_for_update(of=("self",)).get(
        firm_id=system.firm_id, system=system
    )
