"""Write down who was given a revision, and tell them when it is superseded."""

import logging
from datetime import datetime
from smtplib import SMTPException

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction

from contractor.reports import codes, contents, queries
from contractor.reports.models import Handing, Report
from contractor.tenancy import queries as tenancy
from contractor.visits.models import SealedRecord

log = logging.getLogger(__name__)
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


def tell_superseded(*, record: SealedRecord, now: datetime) -> int:
    """Tell everyone who holds an earlier revision that a new one stands; each once.

    It is written down before it is sent: after a failure nobody is told twice, and the failure is
    in the log.
    """
    told = 0
    profile = tenancy.get_profile(firm_id=record.firm_id)
    body = queries.read_body(record=record)
    for name, address in queries.list_holders(record=record):
        with transaction.atomic():
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
        message = EmailMessage(
            subject=_in_one_line(f"{body['property']['building']}: the report was amended"),
            body=_write_notice(name, body, record, profile.name),
            from_email=settings.DEFAULT_FROM_EMAIL,
            to=[address],
            reply_to=[profile.email] if profile.email else None,
        )
        try:
            message.send()
            told += 1
        except (SMTPException, OSError):
            log.exception("A notice of revision %s could not be sent", record.pk)
    return told


def _in_one_line(text: str) -> str:
    """Set a text as the subject of a mail: a line's end in a name would begin a header."""
    return " ".join(text.split())


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
