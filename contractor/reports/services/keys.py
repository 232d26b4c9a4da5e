"""Keep the key that a firm's reports are signed with: its own, or one made for it."""

import logging
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from contractor.reports import queries, signing, vault
from contractor.reports.models import SigningKey
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Firm, Member
from contractor.tenancy.services import write_audit

log = logging.getLogger(__name__)


@transaction.atomic
def open_identity(*, firm_id: UUID, now: datetime) -> tuple[bytes, str]:
    """Open the key that signs today, and give its certificate's SHA-256; make one if need be.

    One that has ended, or was kept under another SECRET_KEY, is retired and a new one made: a
    report is never left unsigned.
    """
    # One at a time, or two reports at once would make two keys.
    Firm.objects.select_for_update(no_key=True).get(pk=firm_id)
    found = queries.find_key(firm_id=firm_id)
    if found is not None and found.ends_on >= now.date():
        try:
            return vault.open_(bytes(found.sealed), firm_id=firm_id), found.sha256
        except vault.Unreadable:
            log.error("The signing key of firm %s was kept under another SECRET_KEY", firm_id)
    if found is not None:
        _retire(found, member=None, now=now, why="It ended, or cannot be opened any more.")
    name = tenancy.get_profile(firm_id=firm_id).name
    identity = signing.make_identity(name=name, now=now)
    _keep(identity, firm_id=firm_id, member=None, now=now, is_own=False)
    return identity.pkcs12, identity.sha256


@transaction.atomic
def bring_key(
    *, firm_id: UUID, data: bytes, password: str, member: Member, now: datetime, today: date
) -> SigningKey:
    """Sign with the firm's own certificate from now on.

    Raises
    ------
    signing.UnableToUse
        If the file cannot be used; nothing changes then.
    """
    identity = signing.read_identity(data, password=password, today=today)
    Firm.objects.select_for_update(no_key=True).get(pk=firm_id)
    if (found := queries.find_key(firm_id=firm_id)) is not None:
        _retire(found, member=member, now=now, why=f"Replaced by {identity.subject}.")
    return _keep(identity, firm_id=firm_id, member=member, now=now, is_own=True)


@transaction.atomic
def use_generated(*, firm_id: UUID, member: Member, now: datetime) -> SigningKey:
    """Sign with a certificate that is made here, from now on; a new one is made."""
    Firm.objects.select_for_update(no_key=True).get(pk=firm_id)
    if (found := queries.find_key(firm_id=firm_id)) is not None:
        _retire(found, member=member, now=now, why="Replaced by one that is made here.")
    name = tenancy.get_profile(firm_id=firm_id).name
    identity = signing.make_identity(name=name, now=now)
    return _keep(identity, firm_id=firm_id, member=member, now=now, is_own=False)


def _retire(key: SigningKey, *, member: Member | None, now: datetime, why: str) -> None:
    key.retired_at = now
    key.save(update_fields=["retired_at"])
    write_audit(member=member, action="signing_key.retired", subject=key, summary=why, now=now)


def _keep(
    identity: signing.Identity,
    *,
    firm_id: UUID,
    member: Member | None,
    now: datetime,
    is_own: bool,
) -> SigningKey:
    key = SigningKey.objects.create(
        firm_id=firm_id,
        sealed=vault.close(identity.pkcs12, firm_id=firm_id),
        subject=identity.subject,
        sha256=identity.sha256,
        ends_on=identity.ends_on,
        is_own=is_own,
        made_at=now,
        made_by=member,
    )
    write_audit(
        member=member,
        action="signing_key.kept",
        subject=key,
        summary=f"{identity.subject}, certificate {identity.sha256[:16]}",
        now=now,
    )
    return key
