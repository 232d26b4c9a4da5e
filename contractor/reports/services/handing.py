"""Tell whom a report concerns that it is ready, who was given it, and that it is superseded."""

from collections.abc import Sequence
from datetime import datetime
from functools import partial

from django.db import transaction
from django.utils.translation import gettext

from contractor.notices import letters
from contractor.notices import queries as outbox
from contractor.notices import services as notices
from contractor.notices.letters import Letter
from contractor.notices.models import NoticeKind
from contractor.register import queries as register
from contractor.register.models import Topic
from contractor.reports import codes, contents, queries
from contractor.reports.models import Handing, Report
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import FirmProfile
from contractor.visits.models import SealedRecord
from contractor.web.charts.pen import say_day

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
            kind=NoticeKind.SUPERSEDED,
            object_id=record.pk,
            occurrence=f"revision {record.revision}",
            to=[notices.Recipient(address, name)],
            write=partial(_write_notice, name, body, record, profile.name),
            now=now,
        )
    return told


def _write_notice(name: str, body: contents.Record, record: SealedRecord, firm: str) -> Letter:
    subject = gettext("%(building)s: the report was amended") % {
        "building": body["property"]["building"]
    }
    superseded = gettext(
        "the report of %(day)s on %(building)s that you have is superseded. Revision %(revision)s "
        "stands in its place."
    ) % {
        "day": say_day(contents.day_of(body)),
        "building": body["property"]["building"],
        "revision": record.revision,
    }
    why = gettext("Why: %(reason)s") % {"reason": body["visit"]["reason"] or record.reason}
    code = gettext("Code of the new report: %(code)s. Check it at %(address)s")
    text = (
        f"{name},\n\n"
        f"{superseded}\n\n"
        f"{why}\n\n"
        f"{_write_facts(body, firm)}"
        f"{code % {'code': _code_of(record), 'address': queries.verify_at()}}\n\n"
        f"{body['statement']}\n\n"
        f"{firm}\n"
    )
    return Letter(subject, text)


def _write_facts(body: contents.Record, firm: str) -> str:
    people = "; ".join(f"{one['name']}, {gettext(one['part'])}" for one in body["people"])
    tasks = ", ".join(gettext(one) for one in body["visit"]["tasks_in_words"].split(", "))
    facts = (
        gettext("What was tested: %(tasks)s") % {"tasks": tasks},
        gettext("To: %(edition)s") % {"edition": body["edition"]["title"]},
        gettext("By: %(people)s, %(firm)s") % {"people": people, "firm": firm},
        gettext("Result: %(answer)s") % {"answer": contents.say_answer(body)},
    )
    return "\n".join(facts) + "\n\n"


def _code_of(record: SealedRecord) -> str:
    return codes.say_code(codes.make_code(record.record_hash))


@transaction.atomic
def tell_ready(*, record: SealedRecord, seats: Sequence[notices.Recipient], now: datetime) -> int:
    """Owe owners, the customer's contacts and the office the notice of a report; each once.

    Whoever has an earlier revision is told that it is superseded, and not a second time. Those of
    the customer's side are written down as given it: an amendment will be told to them as well.
    """
    slug = tenancy.get_slug(firm_id=record.firm_id)
    building = record.visit.building
    contacts = register.list_contacts(customer=building.customer, told_of=Topic.REPORTS)
    office = tenancy.list_office_addresses(firm_id=record.firm_id)
    ours = letters.link_to("reports:record", slug, record_id=record.pk)
    theirs = letters.link_to("owners:building", slug, building_id=building.pk)
    asked = [(one, theirs, True) for one in seats]
    asked += [(notices.Recipient(one.email, one.name), "", True) for one in contacts]
    asked += [(notices.Recipient(address, name), ours, False) for name, address in office]
    told = {address.lower() for _, address in queries.list_holders(record=record)}
    owed = 0
    for person, link, is_theirs in asked:
        address = person.address.strip().lower()
        if not address or address in told:
            continue
        told.add(address)
        new = _owe_ready(record, person, link, now)
        owed += new
        wants = NoticeKind.REPORT_READY not in outbox.list_refused(
            firm_id=record.firm_id, address=address
        )
        if new and is_theirs and wants:
            Handing.objects.create(
                firm_id=record.firm_id,
                record=record,
                how=Handing.How.MAILED,
                name=person.name[:160],
                address=address,
                at=now,
            )
    return owed


def _owe_ready(record: SealedRecord, person: notices.Recipient, link: str, now: datetime) -> int:
    body, profile = queries.read_body(record=record), tenancy.get_profile(firm_id=record.firm_id)
    return notices.owe(
        firm_id=record.firm_id,
        kind=NoticeKind.REPORT_READY,
        object_id=record.pk,
        occurrence=f"revision {record.revision}",
        to=[person],
        write=partial(_write_ready, person.name, body, record, profile, link),
        now=now,
    )


def _write_ready(
    name: str, body: contents.Record, record: SealedRecord, profile: FirmProfile, link: str
) -> Letter:
    building, on = body["property"]["building"], contents.day_of(body)
    told = {
        "building": building,
        "day": say_day(on),
        "revision": record.revision,
        "link": link,
        "telephone": profile.telephone,
        "code": _code_of(record),
        "address": queries.verify_at(),
    }
    ready = gettext("the report of our visit to %(building)s on %(day)s is ready.")
    if record.revision > 1:
        ready = gettext(
            "the report of our visit to %(building)s on %(day)s is ready, revision %(revision)s."
        )
    here = gettext("Ask us for it, or for a page of your own with all your reports.")
    if link:
        here = gettext("It is here, with all earlier ones: %(link)s")
    elif profile.telephone:
        here = gettext(
            "Ask us for it, or for a page of your own with all your reports: %(telephone)s."
        )
    code = gettext("Code of the report: %(code)s. Whether a paper is genuine: %(address)s")
    text = (
        f"{name},\n\n"
        f"{ready % told}\n\n"
        f"{_write_facts(body, profile.name)}"
        f"{here % told}\n\n"
        f"{code % told}\n\n"
        f"{body['statement']}\n\n"
        f"{profile.name}\n"
    )
    subject = gettext("%(building)s: the report of %(day)s is ready")
    return Letter(subject % {"building": building, "day": say_day(on)}, text)
