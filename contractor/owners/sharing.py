"""Share a building's proof by a link, and take an owner's decision about what is wrong.

A link holds a secret of 192 bits; its SHA-256 is kept. It shows one building, until its day or
until it is revoked, and each use is written down.
"""

import hashlib
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import connection, transaction
from django.db.models import Count, Max, Q
from django.utils.translation import gettext

from contractor.findings.models import Finding
from contractor.owners.models import Decision, LinkUse, OwnerSeat, ShareLink
from contractor.register.models import Building
from contractor.reports import contents
from contractor.reports import queries as reports
from contractor.reports.models import Report
from contractor.tenancy.services import write_audit
from contractor.visits.models import SealedRecord
from contractor.web.charts.pen import say_day

PURPOSES = ShareLink.Purpose.choices
#: Longer than a year nobody remembers who has a link.
MOST_DAYS = 366
Missing = (ShareLink.DoesNotExist, Finding.DoesNotExist)


class UnableToShare(Exception):
    """The link cannot be made so; the text says what is so and what to do."""


class UnableToDecide(Exception):
    """This cannot be decided so; the text says what is so and what to do."""


def hash_token(secret: str) -> str:
    """Give the token that is kept of a secret."""
    return hashlib.sha256(secret.encode()).hexdigest()


@transaction.atomic
def make_link(
    *,
    building: Building,
    seat: OwnerSeat,
    purpose: str,
    name: str,
    ends_on: date,
    today: date,
    now: datetime,
) -> tuple[ShareLink, str]:
    """Make a link and answer its secret, which is shown once.

    Raises
    ------
    UnableToShare
        If it says not for whom, or ends today or before, or later than in a year.
    """
    if not name.strip():
        raise UnableToShare("Say for whom the link is; each use is written down under that name.")
    if purpose not in ShareLink.Purpose.values:
        raise UnableToShare("Choose who it is for.")
    if not 0 < (ends_on - today).days <= MOST_DAYS:
        raise UnableToShare("Choose a last day after today and within a year.")
    secret = secrets.token_urlsafe(24)
    link = ShareLink.objects.create(
        firm_id=building.firm_id,
        building=building,
        seat=seat,
        token=hash_token(secret),
        purpose=purpose,
        name=name.strip()[:120],
        made_at=now,
        ends_on=ends_on,
    )
    _audit(seat, "link.made", link, f"{link.name}, to {ends_on:%-d %b %Y}", now)
    return link, secret


@transaction.atomic
def revoke_link(*, link: ShareLink, seat: OwnerSeat, now: datetime) -> None:
    """End a link at once; ending it twice keeps the first time."""
    if ShareLink.objects.filter(pk=link.pk, revoked_at=None).update(revoked_at=now):
        _audit(seat, "link.revoked", link, link.name, now)


def _audit(
    seat: OwnerSeat, action: str, subject: ShareLink | Decision, said: str, now: datetime
) -> None:
    write_audit(
        member=None,
        actor=(seat.user.name or seat.user.email)[:160],
        action=action,
        subject=subject,
        summary=said,
        now=now,
    )


def find_link(*, secret: str) -> tuple[UUID, UUID] | None:
    """Find which firm's link a secret opens.

    A read across firms: the database shows the row of the very token that is named, nothing else.
    """
    token = hash_token(secret)
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("select set_config('app.token', %s, true)", [token])
        cursor.execute("select firm_id, id from owners_sharelink where token = %s", [token])
        found: tuple[UUID, UUID] | None = cursor.fetchone()
        cursor.execute("select set_config('app.token', '', true)")
    return found


def get_open_link(*, firm_id: UUID, link_id: UUID) -> ShareLink:
    """Get a link, unless it was revoked or its maker's seat has ended; its day is asked apart."""
    return ShareLink.objects.select_related("building", "building__customer", "seat").get(
        Q(seat__contact=None) | Q(seat__contact__left_on=None),
        firm_id=firm_id,
        pk=link_id,
        revoked_at=None,
        seat__ended_at=None,
    )


def get_link(*, seat: OwnerSeat, buildings: list[Building], link_id: UUID) -> ShareLink:
    """Get a link to one of an owner's buildings."""
    return ShareLink.objects.get(firm_id=seat.firm_id, building__in=buildings, pk=link_id)


def note_use(*, link: ShareLink, what: str, address: str, now: datetime) -> LinkUse:
    """Write down that a link was used."""
    return LinkUse.objects.create(
        firm_id=link.firm_id, link=link, what=what[:120], address=address, at=now
    )


def list_links(*, building: Building) -> list[ShareLink]:
    """List a building's links, newest first, each with how often and when last it was used."""
    found = ShareLink.objects.filter(firm_id=building.firm_id, building=building)
    counted = found.annotate(uses=Count("linkuse"), used_at=Max("linkuse__at"))
    return list(counted.select_related("seat__user").order_by("-made_at", "-pk"))


def list_uses(*, building: Building, most: int = 60) -> list[LinkUse]:
    """List when a building's links were used, newest first."""
    found = LinkUse.objects.filter(firm_id=building.firm_id, link__building=building)
    return list(found.select_related("link").order_by("-at", "-pk")[:most])


@transaction.atomic
def decide(
    *,
    finding: Finding,
    seat: OwnerSeat,
    says: str,
    reason: str,
    now: datetime,
) -> Decision:
    """Write down whether an owner has a finding put right.

    Raises
    ------
    UnableToDecide
        If it is put right already, no answer was chosen, or a refusal says no reason.
    """
    finding = Finding.objects.select_for_update(of=("self",)).get(pk=finding.pk)
    if finding.corrected_on is not None:
        raise UnableToDecide(
            gettext("This was put right on %(corrected_on)s.")
            % {"corrected_on": say_day(finding.corrected_on)}
        )
    if says not in Decision.Says.values:
        raise UnableToDecide("Choose whether we may put it right.")
    if says == Decision.Says.NO and not reason.strip():
        raise UnableToDecide("Say why it is left for now; an authority will ask.")
    decision = Decision.objects.create(
        firm_id=finding.firm_id,
        finding=finding,
        seat=seat,
        says=says,
        reason=reason.strip()[:400],
        name=(seat.user.name or seat.user.email)[:160],
        at=now,
    )
    said = f"{finding.title}: {decision.get_says_display()}"
    _audit(seat, "finding.decided", decision, f"{said}. {decision.reason}".strip(), now)
    return decision


def get_finding(*, seat: OwnerSeat, buildings: list[Building], finding_id: UUID) -> Finding:
    """Get a finding in one of an owner's buildings."""
    found = Finding.objects.select_related("building", "device")
    return found.get(firm_id=seat.firm_id, building__in=buildings, pk=finding_id)


def put_decisions(*, findings: Iterable[Finding], building: Building) -> None:
    """Put beside each finding the decision that stands on it, for its page."""
    found = list_decisions(building=building)
    for finding in findings:
        finding.decision = found.get(finding.pk)  # type: ignore[attr-defined]


def list_decisions(*, building: Building) -> dict[UUID, Decision]:
    """List the decision that stands on each finding of a building."""
    found = Decision.objects.filter(firm_id=building.firm_id, finding__building=building)
    return {one.finding_id: one for one in found.order_by("at", "pk")}


def list_all_decisions(*, firm_id: UUID, most: int = 100) -> list[Decision]:
    """List what the owners of a firm decided, newest first."""
    found = Decision.objects.filter(firm_id=firm_id)
    return list(found.select_related("finding__building", "finding__device").order_by("-at")[:most])


def list_all_links(*, firm_id: UUID, most: int = 100) -> list[ShareLink]:
    """List the links that the owners of a firm gave, newest first."""
    found = ShareLink.objects.filter(firm_id=firm_id)
    counted = found.annotate(uses=Count("linkuse"), used_at=Max("linkuse__at"))
    return list(counted.select_related("building", "seat__user").order_by("-made_at")[:most])


@dataclass(frozen=True)
class Shown:
    """One sealed record as it is shared: its papers, and whether it stands."""

    record: SealedRecord
    papers: tuple[Report, ...]

    @property
    def is_superseded(self) -> bool:
        """Whether a later revision stands in its place."""
        return self.record.revision < self.record.last_revision  # type: ignore[attr-defined]


def list_shown(*, building: Building) -> list[Shown]:
    """List every sealed record of a building with all that was printed of it, newest first."""
    records = list(reports.list_records(firm_id=building.firm_id, building_ids=[building.pk]))
    papers = reports.list_all_kinds(
        firm_id=building.firm_id, record_ids=[record.pk for record in records]
    )
    return [Shown(record, tuple(papers.get(record.pk, ()))) for record in records]


def list_papers(*, record: SealedRecord) -> list[Report]:
    """List what was printed of a record beside the full report."""
    return [one for one in reports.list_kinds(record=record) if one.kind != reports.VISIT]


def list_unreached(*, record: SealedRecord | None) -> list[tuple[dict[str, str], str]]:
    """List what a record says was not tested, each device with its reason."""
    if record is None:
        return []
    body = reports.read_body(record=record)
    absent = contents.list_absent(body) if body.get("devices") else []
    return [(one, contents.say_why(one)) for one in absent if one["result"] == "not_tested"]


def get_record(*, building: Building, record_id: UUID) -> SealedRecord:
    """Get a sealed record of a building."""
    found = SealedRecord.objects.select_related("visit", "sealed_by")
    return found.get(firm_id=building.firm_id, visit__building=building, pk=record_id)


def get_paper(*, building: Building, report_id: UUID) -> Report:
    """Get a report of a building."""
    return reports.get_report(
        firm_id=building.firm_id, report_id=report_id, building_ids=[building.pk]
    )
