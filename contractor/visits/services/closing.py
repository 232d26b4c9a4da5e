"""Hand in, review and sign off a visit."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext, ngettext

from contractor.due import services as due
from contractor.readings import services as readings
from contractor.register.models import Device
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.visits import barriers, queries, record
from contractor.visits.models import Entry, EntryKind, SealedRecord, Visit, VisitState
from contractor.visits.services import sealing
from contractor.visits.services.consequences import follow
from contractor.visits.services.entry import enter, find_known, get_place
from contractor.visits.services.performed import list_performed


class UnableToClose(Exception):
    """The visit cannot be handed in or signed off; the text says what is missing."""


def _lock(visit: Visit, *states: str) -> Visit:
    visit = (
        Visit.objects.select_for_update(of=("self",))
        .select_related("building", "building__customer", "handed_in_by")
        .get(pk=visit.pk)
    )
    if visit.state not in states:
        raise UnableToClose(
            gettext("This visit is %(state)s.") % {"state": gettext(visit.get_state_display())}
        )
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

    Handing in twice keeps the first time.

    Raises
    ------
    UnableToClose
        If nobody was told that the work has ended, or untouched devices have no reason.
    """
    visit = _lock(visit, VisitState.UNDER_WAY, VisitState.TO_REVIEW)
    if visit.state == VisitState.TO_REVIEW:
        return visit
    if not notified_after.strip():
        raise UnableToClose(
            "Tell everyone who was told before that the work has ended, and write down whom."
        )
    rest = [place for place in queries.load_round(visit=visit).places if not place.is_done]
    if rest and not reason_for_rest.strip():
        raise UnableToClose(
            gettext("%(devices)s no result and no reason. Say why they were not tested.")
            % {"devices": _devices(len(rest))}
        )
    for place in rest:
        for task in place.state.missing:
            enter(
                visit=visit,
                device=place.device,
                member=member,
                now=now,
                kind=EntryKind.NOT_TESTED,
                task=task,
                reason=reason_for_rest.strip()[:200],
            )
    visit.state, visit.handed_in_at, visit.handed_in_by = VisitState.TO_REVIEW, now, member
    visit.notified_after, visit.sent_back = notified_after.strip(), ""
    visit.save(
        update_fields=["state", "handed_in_at", "handed_in_by", "notified_after", "sent_back"]
    )
    write_audit(member=member, action="visit.handed_in", subject=visit, now=now)
    return visit


def _devices(count: int) -> str:
    return "1 device has" if count == 1 else f"{count} devices have"


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
    visit.state, visit.sent_back = VisitState.UNDER_WAY, reason.strip()
    visit.save(update_fields=["state", "sent_back"])
    write_audit(member=member, action="visit.sent_back", subject=visit, summary=reason, now=now)
    return visit


@transaction.atomic
def resolve(
    *,
    visit: Visit,
    device: Device,
    task: str,
    holds: UUID,
    reason: str,
    member: Member,
    now: datetime,
    seen: Sequence[str],
    entry_id: UUID | None = None,
) -> Entry:
    """Decide which of several statements holds; all stay on record.

    The decision is an entry of its own that supersedes every one of them, in the name of whoever
    decides. A reading that does not hold no longer counts.

    Raises
    ------
    UnableToClose
        If no reason is given, or what was seen is not what stands.
    """
    visit = _lock(visit, VisitState.UNDER_WAY, VisitState.TO_REVIEW)
    if known := find_known(entry_id=entry_id, visit=visit, device=device, task=task):
        return known
    place = get_place(visit, device, task)
    chosen = next((one for one in place.standing if one.pk == holds), None)
    if chosen is None or chosen.task != task:
        raise UnableToClose("That result does not stand any more. Look again, then decide.")
    if not reason.strip():
        raise UnableToClose("Say why this result holds and the other does not.")
    standing = place.standing_ids(task, chosen.stage)
    if set(standing) - set(seen):
        raise UnableToClose("Another result has come in meanwhile. Look again, then decide.")
    for other in place.standing:
        if other.reading is None or other.reading_id == chosen.reading_id:
            continue
        if str(other.pk) in standing:
            readings.withdraw(
                reading=other.reading, reason=f"Decided: {reason.strip()}", member=member, now=now
            )
    entry = enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        kind=chosen.kind,
        entry_id=entry_id,
        supersedes=standing,
        task=task,
        stage=chosen.stage,
        result=chosen.result,
        reading=chosen.reading,
        reason=chosen.reason,
        text=f"Decided between {len(standing)} statements: {reason.strip()}",
    )
    follow(visit=visit, device=device, task=task, member=member, now=now)
    write_audit(member=member, action="visit.resolved", subject=visit, summary=reason, now=now)
    return entry


def what_is_missing(*, visit: Visit, gone_round: queries.Round) -> list[str]:
    """List, in sentences, what stands in the way of signing a visit off."""
    missing = record.list_missing(
        record.build(
            visit=visit,
            gone_round=gone_round,
            revision=1,
            reason="",
            member=visit.handed_in_by,
            now=visit.handed_in_at,
        )
    )
    two = [p.device.address for p in gone_round.places if p.state.outcome == "two_results"]
    if two:
        said = gettext("Two results stand for %(devices)s. Decide which holds.")
        missing.append(said % {"devices": _list(two)})
    open_ones = [place.device.address for place in gone_round.places if not place.is_done]
    if open_ones:
        said = ngettext(
            "%(count)s device has neither a result nor a reason: %(devices)s.",
            "%(count)s devices have neither a result nor a reason: %(devices)s.",
            len(open_ones),
        )
        missing.append(said % {"count": len(open_ones), "devices": _list(open_ones)})
    if not visit.notified_before or not visit.notified_after:
        missing.append(gettext("It is not written down who was told before and after."))
    return [*missing, *barriers.list_barriers(visit)]


def _list(words: Sequence[str], most: int = 5) -> str:
    listed = ", ".join(words[:most])
    if len(words) <= most:
        return listed
    return gettext("%(listed)s and %(count)s more") % {
        "listed": listed,
        "count": len(words) - most,
    }


@transaction.atomic
def sign_off(*, visit: Visit, member: Member, now: datetime) -> SealedRecord:
    """Sign a visit off: renew due dates, freeze the record, queue its report.

    Signing twice answers the record that stands.

    Raises
    ------
    UnableToClose
        If something is missing; the text lists it.
    """
    visit = _lock(visit, VisitState.TO_REVIEW, VisitState.SIGNED_OFF)
    if visit.state == VisitState.SIGNED_OFF:
        return queries.list_records(visit=visit)[0]
    gone_round = queries.load_round(visit=visit)
    missing = what_is_missing(visit=visit, gone_round=gone_round)
    if missing:
        raise UnableToClose(" ".join(missing))
    due.record_visit(
        building=visit.building,
        visit_id=visit.pk,
        done=list_performed(visit=visit, gone_round=gone_round),
        member=member,
        now=now,
    )
    due.refresh_building(building=visit.building, today=visit.building.day_at(now))
    visit.state, visit.signed_off_at, visit.signed_off_by = VisitState.SIGNED_OFF, now, member
    visit.save(update_fields=["state", "signed_off_at", "signed_off_by"])
    sealed = sealing.seal(visit=visit, member=member, now=now)
    write_audit(
        member=member,
        action="visit.signed_off",
        subject=visit,
        summary=sealed.record_hash[:16],
        now=now,
    )
    return sealed
