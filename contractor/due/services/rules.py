"""Write down what a jurisdiction asks beyond the adopted edition."""

from datetime import date, datetime

from django.db import transaction

from contractor import jobs
from contractor.due import queries
from contractor.due.models import LocalEffect, LocalRule
from contractor.engine.editions.model import COMPONENTS
from contractor.engine.intervals import FREQUENCIES
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit


class UnableToRule(Exception):
    """The local rule cannot be kept so; the text says what is so and what to do."""


@transaction.atomic
def add_local_rule(
    *,
    jurisdiction: str,
    effect: str,
    reason: str,
    from_on: date,
    member: Member,
    now: datetime,
    component: str = "",
    task: str = "",
    name: str = "",
    frequency: str = "",
) -> LocalRule:
    """Add a local rule, and renew the days of every building of its jurisdiction.

    Whether a frequency is oftener than the edition's is decided per building, where the days are
    computed: a rule never makes a task rarer.

    Raises
    ------
    UnableToRule
        If it names no place, no reason, or not what it asks for.
    """
    jurisdiction, reason = jurisdiction.strip(), reason.strip()
    if not jurisdiction:
        raise UnableToRule("Name the jurisdiction, as it stands on its buildings.")
    if not reason:
        raise UnableToRule("Say where it is written, and why it holds.")
    if effect not in LocalEffect.values:
        raise UnableToRule("Choose what the rule does.")
    if effect != LocalEffect.APPROVAL and component not in COMPONENTS:
        raise UnableToRule("Choose what it is done to.")
    if effect != LocalEffect.APPROVAL and frequency not in FREQUENCIES:
        raise UnableToRule("Choose how often it is done.")
    if effect == LocalEffect.EXTRA and not name.strip():
        raise UnableToRule("Say what is done, in a few words.")
    if effect == LocalEffect.OFTENER and not task:
        raise UnableToRule("Choose the task that is done more often.")
    rule = LocalRule(
        firm_id=member.firm_id,
        jurisdiction=jurisdiction,
        effect=effect,
        reason=reason[:240],
        from_on=from_on,
        recorded_by=member,
        recorded_at=now,
    )
    if effect != LocalEffect.APPROVAL:
        rule.component, rule.frequency = component, frequency
    if effect == LocalEffect.OFTENER:
        rule.task = task
    if effect == LocalEffect.EXTRA:
        rule.task, rule.name = f"local_{rule.pk.hex[-12:]}", name.strip()[:80]
    rule.save(force_insert=True)
    write_audit(
        member=member,
        action="local_rule.added",
        subject=rule,
        summary=f"{jurisdiction}: {rule.get_effect_display()}",
        after={"component": component, "task": task, "frequency": frequency, "reason": reason},
        now=now,
    )
    _renew(rule)
    return rule


@transaction.atomic
def end_local_rule(
    *, rule: LocalRule, until_on: date, reason: str, member: Member, now: datetime
) -> LocalRule:
    """End a local rule on a day; it stays on record.

    Raises
    ------
    UnableToRule
        If the day lies before it began, it has ended already, or no reason is given.
    """
    rule = LocalRule.objects.select_for_update(of=("self",)).get(pk=rule.pk)
    if rule.until_on is not None:
        raise UnableToRule(f"It ended on {rule.until_on:%-d %b %Y} already.")
    if until_on < rule.from_on:
        raise UnableToRule(f"It holds from {rule.from_on:%-d %b %Y}. Choose a later day.")
    if not reason.strip():
        raise UnableToRule("Say why it no longer holds.")
    rule.until_on = until_on
    rule.save(update_fields=["until_on"])
    write_audit(
        member=member,
        action="local_rule.ended",
        subject=rule,
        summary=reason.strip(),
        after={"until_on": until_on.isoformat()},
        now=now,
    )
    _renew(rule)
    return rule


def _renew(rule: LocalRule) -> None:
    for building in queries.list_buildings_in(firm_id=rule.firm_id, jurisdiction=rule.jurisdiction):
        jobs.enqueue("due.refresh_building", firm_id=rule.firm_id, building_id=building.pk)
