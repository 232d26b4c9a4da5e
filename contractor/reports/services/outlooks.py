"""Print what is foreseen for a building's five years, signed, for its budget."""

from datetime import date, datetime

from django.db import transaction

from contractor.register.models import Building
from contractor.reports import ahead, codes
from contractor.reports.models import OutlookPaper, Proof
from contractor.reports.pdf import Paper
from contractor.tenancy import files
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Job, Member
from contractor.tenancy.services import queue_job, write_audit
from contractor.visits import letterhead
from contractor.visits.verifier import canonical, fingerprint


@transaction.atomic
def queue_outlook(*, building: Building, member: Member | None, now: datetime, today: date) -> Job:
    """Queue a building's outlook; within the minute, once."""
    return queue_job(
        firm_id=building.firm_id,
        key=f"{ahead.key_of(building.pk, today)}{now:%H%M}",
        task="reports.print_outlook",
        title=f"Five-year outlook of {building.name}",
        now=now,
        member=member,
        building_id=building.pk,
    )


def freeze_outlook(*, building: Building, today: date) -> tuple[str, str]:
    """Gather an outlook and write it the one way that is hashed; answer text and hash."""
    letterhead.keep_logo(profile=tenancy.get_profile(firm_id=building.firm_id))
    text = canonical(ahead.gather(building=building, today=today))
    return text, fingerprint(text)


@transaction.atomic
def keep_outlook(
    *, building: Building, today: date, text: str, paper: Paper, now: datetime, certificate: str
) -> OutlookPaper:
    """Keep a printed outlook, and let whoever holds it ask whether it is genuine."""
    sha256 = files.keep(firm_id=building.firm_id, data=paper.data)
    made = OutlookPaper.objects.create(
        firm_id=building.firm_id,
        building=building,
        made_on=today,
        body=text,
        body_hash=fingerprint(text),
        sha256=sha256,
        size=len(paper.data),
        pages=paper.pages,
        made_at=now,
        certificate=certificate,
    )
    for token in (codes.make_code(made.body_hash), sha256):
        Proof.objects.get_or_create(
            firm_id=building.firm_id, token=token, defaults={"outlook": made}
        )
    write_audit(
        member=None,
        action="outlook.printed",
        subject=made,
        summary=f"{building.name}, {paper.pages} pages, file {sha256[:16]}",
        now=now,
    )
    return made
