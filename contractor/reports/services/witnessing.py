"""Mail the end of a firm's chain to its principals, so that a copy lies outside."""

from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from contractor.notices import services as notices
from contractor.notices.letters import Letter
from contractor.notices.models import NoticeKind
from contractor.reports import queries
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Firm, FirmProfile
from contractor.tenancy.services import write_audit
from contractor.visits import queries as visits
from contractor.visits.models import SealedRecord

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


@transaction.atomic
def mail_head(*, firm_id: UUID, now: datetime) -> int:
    """Owe a firm's principals the mail of the chain's end; once a week, however often asked."""
    Firm.objects.select_for_update(no_key=True).get(pk=firm_id)
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
    return notices.owe(
        firm_id=firm_id,
        kind=NoticeKind.CHAIN_HEAD,
        object_id=head.pk,
        occurrence=f"{now:%G-W%V}",
        to=[notices.Recipient(address) for address in to],
        write=lambda: Letter(
            f"{profile.name}: the chain ends with record {head.chain_number}",
            write_head(profile=profile, head=head, since=since),
        ),
        now=now,
    )
