"""Write down who was given a revision, and tell them when it is superseded."""

from datetime import datetime

from django.conf import settings
from django.db import transaction

from contractor.notices import services as notices
from contractor.notices.models import NoticeKind
from contractor.reports import codes, contents, queries
from contractor.reports.models import Handing, Report
from contractor.tenancy import queries as tenancy
from contractor.visits.models import SealedRecord

#: Opening the same paper again within this many hours is not written down a second time.
AGAIN_HOURS = 1


@transaction.atomic
def note_opened(
    *, report: Report, name: str, address: str, now: datetime, how: str = Handing.How.OPENED
) -> Handing | None:
    """Write down that somebody opened a report; within the hour, once."""
    if queries.opened_lately(
        record_id=report.record_id, name=name, kind=report.kind, now=now, hours=AGAIN_HOURS
    ):
        return None
    return Handing.objects.create(
        firm_id=report.firm_id,
        record_id=report.record_id,
        how=how,
        name=name[:160],
        address=address,
        kind=report.kind,
        at=now,
    )


@transaction.atomic
def tell_superseded(*, record: SealedRecord, now: datetime) -> int:
    """Owe everyone who holds an earlier revision a notice that a new one stands; each once.

    It goes through the outbox: sent once, and shown to the office where that is not known.
    """
    told = 0
    profile = tenancy.get_profile(firm_id=record.firm_id)
    body = queries.read_body(record=record)
    for name, address in queries.list_holders(record=record):
        if queries.was_told(record=record, address=address):
            continue
        Handing.objects.create(
            firm_id=record.firm_id,
            record=record,
            how=Handing.How.NOTICE,
            name=name,
            address=address,
            at=now,
        )
        told += notices.owe(
            firm_id=record.firm_id,
            kind=NoticeKind.REPORT_READY,
            object_id=record.pk,
            occurrence=f"revision {record.revision}",
            to=[notices.Recipient(address, name)],
            subject=f"{body['property']['building']}: the report was amended",
            body=_write_notice(name, body, record, profile.name),
            now=now,
        )
    return told


def _write_notice(name: str, body: contents.Record, record: SealedRecord, firm: str) -> str:
    visit = body["visit"]
    code = codes.say_code(codes.make_code(record.record_hash))
    people = "; ".join(f"{one['name']}, {one['part']}" for one in body["people"])
    return (
        f"{name},\n\n"
        f"the report of {contents.day_of(body):%-d %b %Y} on {body['property']['building']} that "
        f"you have is superseded. Revision {record.revision} stands in its place.\n\n"
        f"Why: {visit['reason'] or record.reason}\n\n"
        f"What was tested: {visit['tasks_in_words']}\n"
        f"To: {body['edition']['title']}\n"
        f"By: {people}, {firm}\n"
        f"Result: {contents.say_answer(body)}\n\n"
        f"Code of the new report: {code}. Check it at {settings.BASE_URL}/verify/\n\n"
        f"{body['statement']}\n\n"
        f"{firm}\n"
    )
