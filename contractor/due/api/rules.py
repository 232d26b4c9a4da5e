"""Local rules and changes of edition, for programs: first what would move, then the change."""

from datetime import date
from typing import Any
from uuid import UUID

from django import forms as fields
from django.utils import timezone

from contractor.due import forms, queries, services
from contractor.due.api.dates import OfDue
from contractor.programs.examples import key
from contractor.programs.resource import now, operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission

RULE = Shape(
    "LocalRule",
    id="id",
    jurisdiction="text",
    effect="text",
    component="text",
    task="text",
    name="text",
    frequency="text",
    reason="text",
    from_on="day",
    until_on="day?",
    recorded_at="instant",
)
CHANGE = Shape(
    "EditionChange",
    id="id",
    building_id="id",
    before="text",
    edition="text",
    from_on="day",
    reason="text",
    recorded_at="instant",
    applied_at="instant?",
    withdrawn_at="instant?",
)
CHANGES = Shape("EditionChanges", changes=[CHANGE])
MOVES = Shape(
    "Moves",
    looked_at="whole",
    unchanged="whole",
    moves=[
        Shape(
            "Move",
            building_id="id:building.id",
            task="text:task_words",
            component="text:component_words",
            effect="text",
            devices="whole",
            before_on="day?",
            after_on="day?",
            clause="text",
        )
    ],
)
RULE_EXAMPLE = {
    "jurisdiction": "Port Ellory",
    "effect": "oftener",
    "row": "smoke:functional",
    "frequency": "semiannual",
    "reason": "Ordinance 12 of Port Ellory (invented)",
    "from_on": "2026-11-25",
}
CHANGE_EXAMPLE = {
    "of": f"building:{key('building_id')}",
    "edition": "nfpa72-2019",
    "from_on": "2027-01-01",
    "reason": "Adopted by ordinance 14 (invented)",
}


class Change(forms.ChooseEdition, forms.ConfirmEdition):
    """Which buildings (`building:KEY` or `jurisdiction:NAME`), which edition, when and why."""

    reason = fields.CharField(required=False, max_length=240, label="Which adoption it follows")


class OfRules(OfDue):
    """What the addresses of rules share."""

    refusals = (services.UnableToRule, services.UnableToChange)

    def today(self) -> date:
        """The day in the firm's zone."""
        return timezone.localtime(now()).date()

    def read_rule(self) -> services.RuleFacts:
        """Read a rule as the page's form takes it."""
        places = queries.list_jurisdictions(firm_id=self.firm_id)
        facts: services.RuleFacts = self.read(forms.LocalRuleForm, jurisdictions=places).facts()
        return facts

    def read_change(self) -> tuple[dict[str, Any], list[Any]]:
        """Read a change of edition, and choose its buildings."""
        buildings = list(register.list_buildings(firm_id=self.firm_id))
        said = self.read(
            Change,
            buildings=[(one.pk, one.name) for one in buildings],
            jurisdictions=queries.list_jurisdictions(firm_id=self.firm_id),
        ).cleaned_data
        kind, _, name = said["of"].partition(":")
        plain = name.strip().casefold()
        return said, [
            one
            for one in buildings
            if (str(one.pk) == name if kind == "building" else _is_in(one.jurisdiction, plain))
        ]


def _is_in(jurisdiction: str, plain: str) -> bool:
    return jurisdiction.strip().casefold() == plain


class LocalRules(OfRules):
    """The firm's local rules."""

    @operation(RULE, many=True)
    def get(self, request: Any) -> Any:
        """List the firm's local rules, those that have ended too."""
        return self.page(queries.list_all_local_rules(firm_id=self.firm_id))

    @operation(RULE, Permission.MANAGE, takes=forms.LocalRuleForm, status=201, example=RULE_EXAMPLE)
    def post(self, request: Any) -> Any:
        """Add a local rule: what a jurisdiction asks beyond the adopted edition."""
        return services.add_local_rule(**vars(self.read_rule()), **self.now_and_member())


class LocalRulePreview(OfRules):
    """What a local rule would move."""

    @operation(MOVES, Permission.MANAGE, takes=forms.LocalRuleForm, example=RULE_EXAMPLE)
    def post(self, request: Any) -> Any:
        """Tell what a local rule would move; nothing is kept."""
        return services.preview_local_rule(
            firm_id=self.firm_id, facts=self.read_rule(), today=self.today()
        )


class LocalRuleEnded(OfRules):
    """A local rule ended."""

    @operation(
        RULE,
        Permission.MANAGE,
        takes=forms.EndRule,
        example={"until_on": "2027-01-01", "reason": "Repealed by ordinance 15 (invented)"},
    )
    def post(self, request: Any, rule_id: UUID) -> Any:
        """End a local rule on a day."""
        rule = self.get_or_404(queries.get_local_rule, rule_id=rule_id)
        said = self.read(forms.EndRule).cleaned_data
        services.end_local_rule(rule=rule, **said, **self.now_and_member())
        return queries.get_local_rule(firm_id=self.firm_id, rule_id=rule_id)


class EditionChanges(OfRules):
    """Changes of edition."""

    @operation(CHANGE, many=True)
    def get(self, request: Any) -> Any:
        """List changes of edition: planned, made and withdrawn."""
        return self.page(queries.list_edition_changes(firm_id=self.firm_id))

    @operation(CHANGES, Permission.MANAGE, takes=Change, status=201, example=CHANGE_EXAMPLE)
    def post(self, request: Any) -> Any:
        """Have buildings go over to another edition on a day."""
        said, chosen = self.read_change()
        made = services.change_edition(
            buildings=chosen,
            edition=said["edition"],
            from_on=said["from_on"],
            reason=said["reason"],
            **self.now_and_member(),
        )
        return {"changes": made}


class EditionPreview(OfRules):
    """What a change of edition would move."""

    @operation(MOVES, Permission.MANAGE, takes=Change, example=CHANGE_EXAMPLE)
    def post(self, request: Any) -> Any:
        """Tell what a change of edition would move; nothing is kept."""
        said, chosen = self.read_change()
        return services.preview_edition(
            buildings=[one for one in chosen if one.edition != said["edition"]],
            edition=said["edition"],
            from_on=said["from_on"],
        )


class EditionChangeWithdrawn(OfRules):
    """A planned change withdrawn."""

    @operation(CHANGE, Permission.MANAGE)
    def post(self, request: Any, change_id: UUID) -> Any:
        """Withdraw a planned change of edition."""
        change = self.get_or_404(queries.get_edition_change, change_id=change_id)
        services.withdraw_change(change=change, **self.now_and_member())
        return queries.get_edition_change(firm_id=self.firm_id, change_id=change_id)
