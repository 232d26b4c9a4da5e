"""Freeze a signed visit, chain it to the firm's earlier records, and amend it openly."""

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from contractor.tenancy.models import Firm, Member
from contractor.tenancy.services import queue_job, write_audit
from contractor.visits import queries, record
from contractor.visits.models import EntryKind, Result, SealedRecord, Visit, VisitState
from contractor.visits.services.entering import enter

NOTHING_BEFORE = "0" * 64


class UnableToAmend(Exception):
    """The record cannot be amended so; the text says what is so and what to do."""


@dataclass(frozen=True)
class Amendment:
    """One corrected result of one device."""

    device_id: UUID
    task: str
    result: str
    reason: str


def canonical(body: dict[str, Any]) -> str:
    """Write a record the one way that is hashed: sorted keys, no spaces, UTF-8 as it is."""
    return json.dumps(
        body, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False
    )


def link(*, previous_hash: str, record_hash: str, chain_number: int, revision: int) -> str:
    """Compute a link of the chain: what came before, this record, and its place."""
    text = f"{previous_hash}\n{record_hash}\n{chain_number}\n{revision}"
    return hashlib.sha256(text.encode()).hexdigest()


def seal(*, visit: Visit, member: Member, now: datetime, reason: str = "") -> SealedRecord:
    """Freeze a visit as its next revision, link it to the firm's chain, queue its report."""
    # One link at a time: the firm's own row is the lock of its chain.
    Firm.objects.select_for_update().get(pk=visit.firm_id)
    before = SealedRecord.objects.filter(firm_id=visit.firm_id).order_by("-chain_number").first()
    revision = SealedRecord.objects.filter(visit=visit).count() + 1
    body = canonical(
        record.build(visit=visit, revision=revision, reason=reason, member=member, now=now)
    )
    record_hash = hashlib.sha256(body.encode()).hexdigest()
    previous = before.chain_hash if before else NOTHING_BEFORE
    number = before.chain_number + 1 if before else 1
    sealed = SealedRecord.objects.create(
        firm_id=visit.firm_id,
        visit=visit,
        revision=revision,
        body=body,
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
    *, visit: Visit, reason: str, changes: list[Amendment], member: Member, now: datetime
) -> SealedRecord:
    """Amend a signed visit: the earlier revision stays, a new one says what changed and why.

    Raises
    ------
    UnableToAmend
        If the visit is not signed off, no reason is given, or nothing would change.
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
    gone_round = queries.load_round(visit=visit)
    for change in changes:
        place = gone_round.find(change.device_id)
        if place is None or change.task not in place.state.tasks:
            raise UnableToAmend("That device or task is not part of this visit.")
        state = place.state.tasks[change.task]
        if change.result not in (*Result.values, "not_tested"):
            raise UnableToAmend("Choose pass, fail or not tested.")
        if change.result != "pass" and not change.reason.strip():
            raise UnableToAmend("Say why it failed or was not tested.")
        if state.outcome == change.result and state.reason == change.reason.strip():
            raise UnableToAmend(f"{place.device.address} says so already; nothing would change.")
        is_absent = change.result == "not_tested"
        enter(
            visit=visit,
            device=place.device,
            member=member,
            now=now,
            kind=EntryKind.NOT_TESTED if is_absent else EntryKind.RESULT,
            seen=[str(head.id) for head in state.heads if head.stage != "as_left"],
            task=change.task,
            result="" if is_absent else change.result,
            reason=change.reason.strip()[:200],
        )
    sealed = seal(visit=visit, member=member, now=now, reason=reason.strip())
    write_audit(
        member=member,
        action="visit.amended",
        subject=visit,
        summary=reason,
        after={"revision": sealed.revision},
        now=now,
    )
    return sealed


def verify_chain(*, firm_id: UUID) -> list[str]:
    """Check every record of a firm against its hash and its place in the chain."""
    problems = []
    previous, expected = NOTHING_BEFORE, 1
    records = SealedRecord.objects.filter(firm_id=firm_id).order_by("chain_number")
    for sealed in records.iterator(chunk_size=200):
        name = f"Record {sealed.chain_number} (visit {sealed.visit_id}, revision {sealed.revision})"
        if sealed.chain_number != expected:
            problems.append(f"{name}: link {expected} is missing before it.")
        if hashlib.sha256(sealed.body.encode()).hexdigest() != sealed.record_hash:
            problems.append(f"{name}: its text is not what was sealed.")
        if sealed.previous_hash != previous:
            problems.append(f"{name}: it does not follow the record before it.")
        if sealed.chain_hash != link(
            previous_hash=sealed.previous_hash,
            record_hash=sealed.record_hash,
            chain_number=sealed.chain_number,
            revision=sealed.revision,
        ):
            problems.append(f"{name}: its link is not what was sealed.")
        previous, expected = sealed.chain_hash, sealed.chain_number + 1
    return problems


def list_differences(*, old: dict[str, Any], new: dict[str, Any]) -> list[dict[str, str]]:
    """List what differs between two revisions, one row per device and statement."""
    found = []
    before = {device["id"]: device for device in old["devices"]}
    for device in new["devices"]:
        was = before.get(device["id"])
        if was is None:
            found.append({"what": device["address"], "old": "not listed", "new": "listed"})
            continue
        for task, state in device["tasks"].items():
            then = was["tasks"].get(task, {"result": "not asked", "reason": ""})
            if (then["result"], then["reason"]) != (state["result"], state["reason"]):
                found.append(
                    {
                        "what": f"{device['address']} {device['label']}, {task}",
                        "old": _in_words(then),
                        "new": _in_words(state),
                    }
                )
    return found


def _in_words(state: dict[str, str]) -> str:
    said = state["result"].replace("_", " ")
    return f"{said}: {state['reason']}" if state["reason"] else said
