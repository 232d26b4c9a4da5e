"""Write down what a jurisdiction asks beyond the adopted edition."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext

from contractor import jobs
from contractor.due import queries
from contractor.due.models import LocalEffect, LocalRule
from contractor.due.services.changes import Preview, weigh
from contractor.due.services.refreshing import compute
from contractor.engine.editions.model import COMPONENTS
from contractor.engine.intervals import FREQUENCIES
from contractor.tenancy.models import Member
from contractor.tenancy.services import write_audit
from contractor.web.charts.pen import say_day


class UnableToRule(Exception):
    """The local rule cannot be kept so; the text says what is so and what to do."""


@dataclass(frozen=True)
class RuleFacts:
    """What somebody says of a local rule."""

    jurisdiction: str
    effect: str
    reason: str
    from_on: date
    component: str = ""
    task: str = ""
    name: str = ""
    frequency: str = ""


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
    facts = RuleFacts(jurisdiction, effect, reason, from_on, component, task, name, frequency)
    rule = _judged(facts, member.firm_id)
    rule.recorded_by, rule.recorded_at = member, now
    rule.save(force_insert=True)
    write_audit(
        member=member,
        action="local_rule.added",
        subject=rule,
        summary=f"{rule.jurisdiction}: {rule.get_effect_display()}",
        after={
            "component": rule.component,
            "task": rule.task,
            "frequency": rule.frequency,
            "reason": rule.reason,
        },
        now=now,
    )
    _renew(rule)
    return rule


def preview_local_rule(*, firm_id: UUID, facts: RuleFacts, today: date) -> Preview:
    """Compute which days would move in a jurisdiction's buildings if it had one rule more.

    As of the day on which the rule begins to hold, or of today if it holds already.

    Raises
    ------
    UnableToRule
        As `add_local_rule`.
    """
    rule = _judged(facts, firm_id)
    day = max(rule.from_on, today)
    pairs = (
        (
            building,
            compute(building=building, today=day),
            compute(building=building, today=day, more=rule),
        )
        for building in queries.list_buildings_in(firm_id=firm_id, jurisdiction=rule.jurisdiction)
    )
    return weigh(pairs=pairs, from_on=day)


def preview_end(*, rule: LocalRule, until_on: date) -> Preview:
    """Compute which days would move in its jurisdiction's buildings if a local rule ended."""
    buildings = queries.list_buildings_in(firm_id=rule.firm_id, jurisdiction=rule.jurisdiction)
    pairs = (
        (
            building,
            compute(building=building, today=until_on),
            compute(building=building, today=until_on, less=rule),
        )
        for building in buildings
    )
    return weigh(pairs=pairs, from_on=until_on)


def _judged(facts: RuleFacts, firm_id: UUID) -> LocalRule:
    """Make a rule of what was said, unsaved, or say why it cannot be kept."""
    jurisdiction, reason, effect = facts.jurisdiction.strip(), facts.reason.strip(), facts.effect
    if not jurisdiction:
        raise UnableToRule("Name the jurisdiction, as it stands on its buildings.")
    if not reason:
        raise UnableToRule("Say where it is written, and why it holds.")
    if effect not in LocalEffect.values:
        raise UnableToRule("Choose what the rule does.")
    if effect != LocalEffect.APPROVAL and facts.component not in COMPONENTS:
        raise UnableToRule("Choose what it is done to.")
    if effect != LocalEffect.APPROVAL and facts.frequency not in FREQUENCIES:
        raise UnableToRule("Choose how often it is done.")
    if effect == LocalEffect.EXTRA and not facts.name.strip():
        raise UnableToRule("Say what is done, in a few words.")
    if effect == LocalEffect.OFTENER and not facts.task:
        raise UnableToRule("Choose the task that is done more often.")
    rule = LocalRule(
        firm_id=firm_id,
        jurisdiction=jurisdiction,
        effect=effect,
        reason=reason[:240],
        from_on=facts.from_on,
    )
    if effect != LocalEffect.APPROVAL:
        rule.component, rule.frequency = facts.component, facts.frequency
    if effect == LocalEffect.OFTENER:
        rule.task = facts.task
    if effect == LocalEffect.EXTRA:
        rule.task, rule.name = f"local_{rule.pk.hex[-12:]}", facts.name.strip()[:80]
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
        raise UnableToRule(
            gettext("It ended on %(until_on)s already.") % {"until_on": say_day(rule.until_on)}
        )
    if until_on < rule.from_on:
        raise UnableToRule(
            gettext("It holds from %(from_on)s. Choose a later day.")
            % {"from_on": say_day(rule.from_on)}
        )
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
