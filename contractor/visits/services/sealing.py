"""Freeze a signed visit, chain it to the firm's earlier records, and amend it openly."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor.due import services as due
from contractor.readings import services as readings
from contractor.readings.models import Reading, Stage
from contractor.register.models import VerdictState
from contractor.tenancy import queries as tenancy
from contractor.tenancy.models import Firm, Member
from contractor.tenancy.services import queue_job, write_audit
from contractor.visits import letterhead, queries, record
from contractor.visits.models import (
    EntryKind,
    Result,
    SealedRecord,
    Task,
    Visit,
    VisitState,
)
from contractor.visits.services.consequences import follow
from contractor.visits.services.entry import enter
from contractor.visits.services.performed import list_performed
from contractor.visits.verifier import (
    DIGESTS,
    NOTHING_BEFORE,
    canonical,
    digest_parts,
    fingerprint,
    is_removed,
    link,
    locate,
)


class UnableToAmend(Exception):
    """The record cannot be amended so; the text says what is so and what to do."""


@dataclass(frozen=True)
class Amendment:
    """One corrected statement about one task of one device.

    A sensitivity test is amended by the reading as it should have been typed (`said`, with its
    stage and method), or by `not_tested`; the other tasks by a result.
    """

    device_id: UUID
    task: str
    result: str = ""
    reason: str = ""
    said: Mapping[str, str] = field(default_factory=dict)
    stage: str = ""
    method: str = ""


def seal(
    *,
    visit: Visit,
    member: Member,
    now: datetime,
    reason: str = "",
    changed: set[UUID] | None = None,
) -> SealedRecord:
    """Freeze a visit as its next revision, link it to the firm's chain, queue its report."""
    # One link at a time: the firm's own row is the lock of its chain. Not its key, or every
    # insert of the firm would wait for it.
    Firm.objects.select_for_update(no_key=True).get(pk=visit.firm_id)
    before = SealedRecord.objects.filter(firm_id=visit.firm_id).order_by("-chain_number").first()
    earlier = SealedRecord.objects.filter(visit=visit).order_by("-revision").first()
    revision = earlier.revision + 1 if earlier else 1
    body = record.build(
        visit=visit,
        gone_round=queries.load_round(visit=visit),
        revision=revision,
        reason=reason,
        member=member,
        now=now,
    )
    if earlier is not None:
        body = record.amend(earlier=json.loads(earlier.body), built=body, changed=changed or set())
    elif body["firm"]["logo"]:
        letterhead.keep_logo(profile=tenancy.get_profile(firm_id=visit.firm_id))
    body[DIGESTS] = digest_parts(body)
    text = canonical(body)
    record_hash = fingerprint(text)
    previous = before.chain_hash if before else NOTHING_BEFORE
    number = before.chain_number + 1 if before else 1
    sealed = SealedRecord.objects.create(
        firm_id=visit.firm_id,
        visit=visit,
        revision=revision,
        body=text,
        record_hash=record_hash,
        chain_number=number,
        previous_hash=previous,
        chain_hash=link(
            previous_hash=previous,
            record_hash=record_hash,
            chain_number=number,
            revision=revision,
        ),
        reason=reason,
        sealed_at=now,
        sealed_by=member,
    )
    queue_job(
        firm_id=visit.firm_id,
        key=f"report:{sealed.pk}",
        task="reports.render_visit",
        title=f"Report of {visit.building.name}, revision {revision}",
        now=now,
        member=member,
        record_id=sealed.pk,
    )
    return sealed


@transaction.atomic
def amend(
    *,
    visit: Visit,
    reason: str,
    changes: Sequence[Amendment],
    member: Member,
    now: datetime,
    revision: int | None = None,
) -> SealedRecord:
    """Amend a signed visit: the earlier revision stays, a new one says what changed and why.

    `revision` is the one that its author had before their eyes.

    Raises
    ------
    UnableToAmend
        If the visit is not signed off, no reason is given, nothing would change, or somebody has
        amended it meanwhile.
    """
    visit = (
        Visit.objects.select_for_update(of=("self",))
        .select_related("building", "building__customer")
        .get(pk=visit.pk)
    )
    if visit.state != VisitState.SIGNED_OFF:
        raise UnableToAmend("Only a signed visit is amended. Correct the entry itself.")
    if not reason.strip():
        raise UnableToAmend("Say why the record is amended; the new revision prints it.")
    if not changes:
        raise UnableToAmend("Choose at least one result to correct.")
    if revision is not None and revision != SealedRecord.objects.filter(visit=visit).count():
        raise UnableToAmend("This record was amended meanwhile. Look at the latest revision first.")
    for change in changes:
        _apply(visit=visit, change=change, reason=reason.strip(), member=member, now=now)
    due.record_visit(
        building=visit.building,
        visit_id=visit.pk,
        done=list_performed(visit=visit, gone_round=queries.load_round(visit=visit)),
        member=member,
        now=now,
    )
    due.refresh_building(building=visit.building, today=visit.building.day_at(now))
    sealed = seal(
        visit=visit,
        member=member,
        now=now,
        reason=reason.strip(),
        changed={change.device_id for change in changes},
    )
    write_audit(
        member=member,
        action="visit.amended",
        subject=visit,
        summary=reason,
        after={"revision": sealed.revision},
        now=now,
    )
    return sealed


def _apply(*, visit: Visit, change: Amendment, reason: str, member: Member, now: datetime) -> None:
    place = queries.load_round(visit=visit).find(change.device_id)
    if place is None or change.task not in place.state.tasks:
        raise UnableToAmend("That device or task is not part of this visit.")
    state, device = place.state.tasks[change.task], place.device
    stage = change.stage or Stage.AS_FOUND if change.said else ""
    replaced = place.standing_ids(change.task, stage)
    said: dict[str, Any] = {"task": change.task, "supersedes": replaced}
    if change.said:
        said |= _read_again(visit, place, change, stage, reason, member, now)
    elif change.task == Task.SENSITIVITY and change.result != "not_tested":
        raise UnableToAmend("Sensitivity is read, not asserted. Type the reading as it was.")
    elif change.result not in (*Result.values, "not_tested"):
        raise UnableToAmend("Choose pass, fail or not tested.")
    elif change.result != Result.PASS and not change.reason.strip():
        raise UnableToAmend("Say why it failed or was not tested.")
    elif state.outcome == change.result and state.reason == change.reason.strip():
        raise UnableToAmend(
            gettext("%(address)s says so already; nothing would change.")
            % {"address": device.address}
        )
    else:
        is_absent = change.result == "not_tested"
        said |= {
            "kind": EntryKind.NOT_TESTED if is_absent else EntryKind.RESULT,
            "result": "" if is_absent else change.result,
            "reason": change.reason.strip()[:200],
        }
    for entry in place.standing:
        if str(entry.pk) in replaced and entry.reading is not None:
            readings.withdraw(
                reading=entry.reading, reason=f"Amended: {reason}", member=member, now=now
            )
    enter(
        visit=visit,
        device=device,
        member=member,
        now=now,
        text=f"Amended after the sign-off: {reason}",
        **said,
    )
    follow(visit=visit, device=device, task=change.task, member=member, now=now)


def _read_again(
    visit: Visit,
    place: queries.Place,
    change: Amendment,
    stage: str,
    reason: str,
    member: Member,
    now: datetime,
) -> dict[str, Any]:
    """Record the reading as it should have been typed, on the day of the one it replaces."""
    known: Reading | None = place.find_reading(stage)
    assert visit.handed_in_at is not None  # it is signed off
    day = known.taken_on if known else visit.building.day_at(visit.handed_in_at)
    try:
        reading = readings.record_reading(
            device=place.device,
            member=member,
            now=now,
            taken_on=day,
            said=change.said,
            stage=stage,
            is_test=True,
            method=change.method or (known.method if known else ""),
            instrument=known.instrument if known else None,
            visit_id=visit.pk,
            source=f"visit, amended: {reason}"[:80],
        )
    except readings.UnableToRecord as error:
        raise UnableToAmend(str(error)) from None
    if not reading.method:
        raise UnableToAmend("Say by which permitted method the sensitivity was read.")
    results = {VerdictState.OUT: Result.FAIL, VerdictState.NOT_JUDGED: ""}
    result = results.get(VerdictState(reading.verdict), Result.PASS)
    return {
        "kind": EntryKind.READING,
        "stage": stage,
        "result": result,
        "reason": reading.reason[:200] if result == Result.FAIL else "",
        "reading": reading,
    }


def verify_chain(*, firm_id: UUID) -> list[str]:
    """Check every record of a firm against its hash and its place in the chain."""
    problems = []
    previous, expected = NOTHING_BEFORE, 1
    sealed_visits: dict[UUID, int] = {}
    records = SealedRecord.objects.filter(firm_id=firm_id).order_by("chain_number")
    for sealed in records.iterator(chunk_size=200):
        name = f"Record {sealed.chain_number} (visit {sealed.visit_id}, revision {sealed.revision})"
        if sealed.chain_number != expected:
            problems.append(f"{name}: link {expected} is missing before it.")
        if not is_removed(sealed.body) and fingerprint(sealed.body) != sealed.record_hash:
            where = "; ".join(locate(sealed.body)[:5])
            problems.append(
                f"{name}: its text is not what was sealed{f': {where}' if where else ''}."
            )
        if sealed.previous_hash != previous:
            problems.append(f"{name}: it does not follow the record before it.")
        if sealed.chain_hash != link(
            previous_hash=sealed.previous_hash,
            record_hash=sealed.record_hash,
            chain_number=sealed.chain_number,
            revision=sealed.revision,
        ):
            problems.append(f"{name}: its link is not what was sealed.")
        if sealed.revision != sealed_visits.get(sealed.visit_id, 0) + 1:
            problems.append(f"{name}: an earlier revision is missing.")
        if not _belongs(sealed):
            problems.append(f"{name}: its text belongs to another visit or revision.")
        sealed_visits[sealed.visit_id] = sealed.revision
        previous, expected = sealed.chain_hash, sealed.chain_number + 1
    # Nothing in a chain tells that its end was cut off; the signed visits do.
    unsealed = Visit.objects.filter(firm_id=firm_id, state=VisitState.SIGNED_OFF).exclude(
        pk__in=sealed_visits
    )
    problems += [
        f"Visit {visit.pk} is signed off and has no record." for visit in unsealed.order_by("pk")
    ]
    return problems


def _belongs(sealed: SealedRecord) -> bool:
    """Tell whether a record's text names the visit and revision that its row names."""
    try:
        said = json.loads(sealed.body)["visit"]
        return (said["id"], said["revision"]) == (str(sealed.visit_id), sealed.revision)
    except (ValueError, KeyError, TypeError):
        return False


def list_differences(*, old: dict[str, Any], new: dict[str, Any]) -> list[dict[str, str]]:
    """List what differs between two revisions, one row per device and statement."""
    found = []
    before = {device["id"]: device for device in old["devices"]}
    for device in new["devices"]:
        was = before.get(device["id"])
        name = f"{device['address']} {device['label']}".strip()
        if was is None:
            found.append({"what": name, "old": "not listed", "new": "listed"})
            continue
        then, now = _statements(was), _statements(device)
        for what in dict.fromkeys((*then, *now)):
            if then.get(what) != now.get(what):
                found.append(
                    {
                        "what": f"{name}, {what}",
                        "old": then.get(what, "nothing"),
                        "new": now.get(what, "nothing"),
                    }
                )
    return found


def _statements(device: dict[str, Any]) -> dict[str, str]:
    """Put what a record says of one device into words, by what it is about."""
    said = {"result": device["result"].replace("_", " ")}
    for task, state in device["tasks"].items():
        label = str(Task(task).label) if task in Task.values else task
        said[label] = _in_words(state)
    for reading in device["readings"]:
        stage = reading["stage"].replace("_", " ")
        said[f"reading {stage}"] = reading["reason"]
    if device["next"]:
        said["next sensitivity test"] = device["next"]["due_on"]
    return said


def _in_words(state: dict[str, str]) -> str:
    said = state["result"].replace("_", " ")
    return f"{said}: {state['reason']}" if state["reason"] else said
