"""Mail the end of a firm's chain to its principals, so that a copy lies outside."""

import logging
from datetime import datetime, timedelta
from smtplib import SMTPException
from uuid import UUID

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction

from contractor.reports import queries
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Firm, FirmProfile
from contractor.tenancy.services import write_audit
from contractor.visits import queries as visits
from contractor.visits.models import SealedRecord

log = logging.getLogger(__name__)
#: A week, less the hour by which two Mondays may differ.
EVERY = timedelta(days=7) - timedelta(hours=1)


def write_head(*, profile: FirmProfile, head: SealedRecord, since: int) -> str:
    """Write the mail that says how a firm's chain of records ends."""
    return (
        f"The chain of sealed records of {profile.name} has {head.chain_number:,} "
        f"{'record' if head.chain_number == 1 else 'records'}, {since:,} of them from the last "
        "week. It ends with\n\n"
        f"    record {head.chain_number}\n"
        f"    {head.chain_hash}\n\n"
        "Keep this mail. Every record hangs on all those before it: should anyone ever rewrite "
        "one of them, the chain could not end so any more. To compare, run\n\n"
        "    manage.py verify_records\n\n"
        "on the server, or look at chain.json of a building's hand-over file, and find this "
        "number and this line.\n\n"
        "A record says what was tested, to what, by whom and with what result. Whether an "
        "installation meets the code, the authority having jurisdiction decides.\n"
    )


def mail_head(*, firm_id: UUID, now: datetime) -> int:
    """Mail the chain's end to a firm's principals; once a week, however often it is asked.

    It is written down before it is sent: after a failure nobody gets it twice, and the next
    week's mail says the same and more.
    """
    with transaction.atomic():
        firm = Firm.objects.select_for_update(no_key=True).get(pk=firm_id)
        head = visits.find_head(firm_id=firm_id)
        to = queries.list_principals(firm_id=firm_id)
        last = queries.last_head_mailed_at(firm_id=firm_id)
        if head is None or not to or (last is not None and now - last < EVERY):
            return 0
        profile = tenancy.get_profile(firm_id=firm_id)
        write_audit(
            member=None,
            action="chain.head_mailed",
            subject=head,
            summary=f"Record {head.chain_number}, {head.chain_hash}, to {', '.join(to)}"[:1000],
            now=now,
        )
        since = queries.count_sealed_since(firm_id=firm_id, since=now - timedelta(days=7))
    message = EmailMessage(
        subject=" ".join(f"{profile.name}: the chain ends with record {head.chain_number}".split()),
        body=write_head(profile=profile, head=head, since=since),
        from_email=settings.DEFAULT_FROM_EMAIL,
        to=to,
        headers={"Message-ID": f"<chain-{head.chain_number}-{now:%Y%m%d}-{firm.slug}@driftbook>"},
    )
    try:
        return message.send()
    except (SMTPException, OSError):
        log.exception("The chain's end of firm %s could not be mailed", firm.slug)
        return 0
