"""Decide about entries that were kept for review, and about tablets that did not report."""

from datetime import datetime

from django.conf import settings
from django.db import transaction
from django.utils.translation import override

from contractor.field import queries
from contractor.field.models import Applied, Holding, Review, Why
from contractor.field.services.applying import Refused, apply
from contractor.field.services.entering import number_applied
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.visits import services as visits
from contractor.visits.models import Visit


class UnableToDecide(Exception):
    """It cannot be decided so; the text says what is so and what to do."""


@transaction.atomic
def resolve(
    *, review: Review, is_taken: bool, reason: str, member: Member, now: datetime
) -> Review:
    """Take an entry as its author said it, or leave it out; it stays on record either way.

    Raises
    ------
    UnableToDecide
        If no reason is given, it was decided already, or its visit cannot take it.
    """
    review = (
        Review.objects.select_for_update(of=("self",))
        .select_related("received", "received__author", "received__tablet")
        .get(pk=review.pk)
    )
    received = review.received
    if review.resolved_at is not None:
        raise UnableToDecide("This was decided already.")
    if not reason.strip():
        raise UnableToDecide("Say why; the reason stays with the entry.")
    counts = Applied.objects.filter(received=received).exists()
    if counts and not is_taken:
        raise UnableToDecide(
            "It counts already. Correct the device's result on the visit, then say that you saw it."
        )
    if is_taken and not counts:
        if received.author is None or received.visit_id is None:
            raise UnableToDecide("Its author or its visit is not on this server. Leave it out.")
        visit = (
            Visit.objects.select_for_update(of=("self",))
            .select_related("building")
            .get(pk=received.visit_id)
        )
        try:
            device = apply(
                received=received, visit=visit, member=received.author, why=reason.strip()
            )
            number_applied(visit, [received])
        except Refused as refused:
            said = refused.sentence or str(refused)
            more = " Amend the record instead." if refused.why == Why.VISIT_CLOSED else ""
            raise UnableToDecide(f"{said}{more}") from None
        if device is not None:
            visits.settle(visit=visit, touched=[(device, member)], now=now)
    review.resolved_at, review.resolved_by = now, member
    review.is_taken, review.reason = is_taken, reason.strip()[:200]
    review.save(update_fields=["resolved_at", "resolved_by", "is_taken", "reason"])
    write_audit(
        member=member,
        action="field.review_resolved",
        subject=review,
        summary=f"{'taken' if is_taken else 'left out'}: {reason.strip()}",
        now=now,
    )
    return review


@transaction.atomic
def excuse(*, holding: Holding, reason: str, member: Member, now: datetime) -> Holding:
    """Let a visit be signed off without what a tablet still holds; the record says so.

    Raises
    ------
    UnableToDecide
        If no reason is given.
    """
    holding = (
        Holding.objects.select_for_update(of=("self",))
        .select_related("tablet", "visit")
        .get(pk=holding.pk)
    )
    if not reason.strip():
        raise UnableToDecide("Say why the visit is signed off without this tablet.")
    with override(settings.LANGUAGE_CODE):  # it is kept with the visit
        said = queries.say_holding(holding=holding)
    holding.excused_at, holding.excused_by = now, member
    holding.excuse = reason.strip()[:200]
    holding.save(update_fields=["excused_at", "excused_by", "excuse"])
    try:
        visits.note(
            visit=holding.visit,
            text=f"Signed off without {holding.tablet.name}: {said} Reason: {reason.strip()}",
            member=member,
            now=now,
        )
    except visits.UnableToEnter as error:
        raise UnableToDecide(str(error)) from None
    write_audit(
        member=member, action="tablet.excused", subject=holding, summary=reason.strip(), now=now
    )
    return holding
