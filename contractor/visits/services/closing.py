"""Hand in, review and sign off a visit."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction

from contractor.due import services as due
from contractor.register.models import Device
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.visits import queries
from contractor.visits.models import EntryKind, Result, SealedRecord, Visit, VisitState
from contractor.visits.services import sealing
from contractor.visits.services.entering import enter


class UnableToClose(Exception):
    """The visit cannot be handed in or signed off; the text says what is missing."""


def _lock(visit: Visit, *states: str) -> Visit:
    visit = (
        Visit.objects.select_for_update(of=("self",))
        .select_related("building", "building__customer")
        .get(pk=visit.pk)
    )
    if visit.state not in states:
        raise UnableToClose(f"This visit is {visit.get_state_display()}.")
    return visit


@transaction.atomic
def hand_in(
    *,
    visit: Visit,
    notified_after: str,
    reason_for_rest: str,
    member: Member,
    now: datetime,
) -> Visit:
    """Hand a visit in for review. What nobody touched gets the reason given for the rest.

    Raises
    ------
    UnableToClose
        If nobody was told that the work has ended, or untouched devices have no reason.
    """
    visit = _lock(visit, VisitState.UNDER_WAY)
    if not notified_after.strip():
        raise UnableToClose(
            "Tell everyone who was told before that the work has ended, and write down whom."
        )
    gone_round = queries.load_round(visit=visit)
    rest = [place for place in gone_round.places if _is_unexplained(place)]
    if rest and not reason_for_rest.strip():
        raise UnableToClose(
            f"{len(rest)} devices have no result and no reason. Say why they were not tested."
        )
    for place in rest:
        for task, state in place.state.tasks.items():
            if state.outcome == "not_tested" and not state.reason:
                enter(
                    visit=visit,
                    device=place.device,
                    member=member,
                    now=now,
                    kind=EntryKind.NOT_TESTED,
                    task=task,
                    seen=[str(head.id) for head in state.heads],
                    reason=reason_for_rest.strip()[:200],
                )
    visit.state, visit.handed_in_at, visit.handed_in_by = VisitState.TO_REVIEW, now, member
    visit.notified_after = notified_after.strip()
    visit.save(update_fields=["state", "handed_in_at", "handed_in_by", "notified_after"])
    write_audit(member=member, action="visit.handed_in", subject=visit, now=now)
    return visit


def _is_unexplained(place: queries.Place) -> bool:
    """Whether a task has neither result nor reason; a device that was replaced needs none."""
    if any(entry.kind == EntryKind.REPLACED for entry in place.entries):
        return False
    return any(
        state.outcome == "not_tested" and not state.reason for state in place.state.tasks.values()
    )


@transaction.atomic
def send_back(*, visit: Visit, reason: str, member: Member, now: datetime) -> Visit:
    """Send a visit back to its technician.

    Raises
    ------
    UnableToClose
        If no reason is given.
    """
    visit = _lock(visit, VisitState.TO_REVIEW)
    if not reason.strip():
        raise UnableToClose("Say what is to be done before it is handed in again.")
    visit.state = VisitState.UNDER_WAY
    visit.save(update_fields=["state"])
    enter(
        visit=visit, device=None, member=member, now=now, kind=EntryKind.NOTE, text=reason.strip()
    )
    write_audit(member=member, action="visit.sent_back", subject=visit, summary=reason, now=now)
    return visit


@transaction.atomic
def resolve(
    *,
    visit: Visit,
    device: Device,
    task: str,
    result: str,
    reason: str,
    member: Member,
    now: datetime,
    seen: Sequence[str],
    entry_id: UUID | None = None,
) -> None:
    """Decide between two results that did not know of each other; both stay on record.

    Raises
    ------
    UnableToClose
        If no reason is given, or what was seen is not what stands.
    """
    visit = _lock(visit, VisitState.UNDER_WAY, VisitState.TO_REVIEW)
    if result not in Result.values:
        raise UnableToClose("Choose pass or fail.")
    if not reason.strip():
        raise UnableToClose("Say why this result holds and the other does not.")
    place = queries.load_round(visit=visit).find(device.pk)
    if place is None or task not in place.state.tasks:
        raise UnableToClose(f"{device.address} is not part of this visit.")
    standing = {str(head.id) for head in place.state.tasks[task].heads}
    if standing - set(seen):
        raise UnableToClose("Another result has come in meanwhile. Look again, then decide.")
    enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        kind=EntryKind.RESULT,
        entry_id=entry_id,
        seen=sorted(standing),
        task=task,
        result=result,
        reason=reason.strip()[:200],
    )


def what_is_missing(*, visit: Visit, gone_round: queries.Round) -> list[str]:
    """List, in sentences, what a record of this visit would lack.

    The seven items without which no report is given: activity, date, inventory, frequency, who
    with contact and affiliation, standard with edition and section, results. Source: Joint
    Commission, EC.02.03.05 EP 28, as restated in its published FAQ.
    """
    missing = []
    if not visit.tasks:
        missing.append("What was done is not named.")
    if visit.began_at is None:
        missing.append("The day of the work is not known.")
    if not gone_round.places:
        missing.append("No device is on the visit's list.")
    profile = tenancy.get_profile(firm_id=visit.firm_id)
    if not (profile.address and profile.telephone):
        missing.append("The firm's address and telephone are not on its profile.")
    people = queries.list_people(visits=[visit])[visit.pk]
    who = {entry.member.name for place in gone_round.places for entry in place.entries}
    if not people and not who:
        missing.append("Nobody is named who did the work.")
    two = [p.device.address for p in gone_round.places if p.state.outcome == "two_results"]
    if two:
        missing.append(f"Two results stand for {', '.join(two[:5])}. Decide between them.")
    unexplained = [p.device.address for p in gone_round.places if _is_unexplained(p)]
    if unexplained:
        missing.append(f"{len(unexplained)} devices were not tested and no reason is given.")
    if not visit.notified_before or not visit.notified_after:
        missing.append("It is not written down who was told before and after.")
    return missing


@transaction.atomic
def sign_off(*, visit: Visit, member: Member, now: datetime) -> SealedRecord:
    """Sign a visit off: renew due dates, freeze the record, queue its report.

    Signing twice answers the record that stands.

    Raises
    ------
    UnableToClose
        If something is missing; the text lists it.
    """
    known = (
        Visit.objects.select_for_update(of=("self",))
        .filter(pk=visit.pk, state=VisitState.SIGNED_OFF)
        .first()
    )
    if known is not None:
        return queries.list_records(visit=known)[0]
    visit = _lock(visit, VisitState.TO_REVIEW)
    missing = what_is_missing(visit=visit, gone_round=queries.load_round(visit=visit))
    if missing:
        raise UnableToClose(" ".join(missing))
    due.refresh_building(
        building=visit.building, today=due.day_in(building=visit.building, now=now)
    )
    visit.state, visit.signed_off_at, visit.signed_off_by = VisitState.SIGNED_OFF, now, member
    visit.save(update_fields=["state", "signed_off_at", "signed_off_by"])
    record = sealing.seal(visit=visit, member=member, now=now)
    write_audit(
        member=member,
        action="visit.signed_off",
        subject=visit,
        summary=record.record_hash[:16],
        now=now,
    )
    return record
