"""Drift outlooks and cleaning lists for programs."""

from types import SimpleNamespace
from typing import Any, ClassVar
from uuid import UUID

from django import forms as fields

from contractor.drift import forms, queries, services
from contractor.programs.examples import key
from contractor.programs.resource import Filter, Resource, now, operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.tenancy.keys import uuid7
from contractor.tenancy.permissions import Permission

FORECAST = Shape(
    "Forecast",
    device_id="id",
    building_id="id",
    as_of="day",
    readings="whole",
    rate="number",
    rate_sd="number",
    p10_on="day?",
    p50_on="day?",
    p90_on="day?",
    next_on="day",
    chance="number",
)
OUTLOOK = Shape(
    "BuildingOutlook",
    building_id="id",
    as_of="day",
    next_on="day",
    basis="text",
    detectors="whole",
    expected="number",
    likely="whole",
)
ROW = Shape(
    "CleaningRow",
    rank="whole",
    device_id="id:device.id",
    address="text:device.address",
    label="text:device.label",
    left="number",
    cleaned="number",
)
CLEANING = Shape(
    "CleaningList",
    visit_on="day?",
    after_on="day?",
    come_by="day?",
    target="number?",
    expected="number?",
    avoided="number?",
    hours="number?",
    rows=[ROW],
)
POLICY = Shape("DriftPolicy", chance="number", accepted="number", minutes="whole")
PLANNED = Shape("CleaningVisit", id="id", building_id="id", planned_on="day", purpose="text")
QUESTION = Shape(
    "DriftQuestion",
    id="id",
    device_id="id",
    kind="text",
    after_on="day",
    by_on="day",
    change="number",
    chance="number",
    asked_on="day",
    answer="text",
    happened_on="day?",
    note="text",
)


class PlanCleaning(forms.PlanCleaning):
    """When which detectors are cleaned."""

    visit_id = fields.UUIDField(required=False, label="Its key, if the program makes it")
    devices = fields.MultipleChoiceField(label="Keys of detectors")

    def __init__(self, *args: Any, devices: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["devices"].choices = devices  # type: ignore[attr-defined]


class _Drift(Resource):
    group = "Drift"
    refusals: ClassVar = (services.UnableToAnswer, services.UnableToPlan)
    missing: ClassVar[tuple[type[Exception], ...]] = (*queries.Missing, *register.Missing)


class Outlooks(_Drift):
    """The buildings' outlooks."""

    @operation(OUTLOOK, many=True)
    def get(self, request: Any) -> Any:
        """List by building how many detectors are expected to reach their limit."""
        return self.page(queries.list_outlooks(firm_id=self.firm_id))


class Forecasts(_Drift):
    """The detectors' forecasts."""

    @operation(
        FORECAST,
        many=True,
        filters=(
            Filter("building", "Only one building.", kind="id", example=key("building_id")),
            Filter("product", "Only one product.", kind="id"),
            Filter("q", "Address or place."),
        ),
    )
    def get(self, request: Any) -> Any:
        """List when detectors are expected to reach their limit. [%/ft per year]"""
        narrowed = queries.Filter(
            building_id=self.asked_id("building"),
            product_id=self.asked_id("product"),
            text=self.asked("q"),
        )
        return self.page(queries.list_forecasts(firm_id=self.firm_id, narrowed=narrowed))


class Cleaning(_Drift):
    """A building's cleaning list."""

    @operation(
        CLEANING,
        filters=(
            Filter("on", "Cleaned on.", kind="day"),
            Filter("until", "Must last until.", kind="day"),
            Filter("accepted", "How many detectors may run out."),
            Filter("count", "How many to clean."),
        ),
    )
    def get(self, request: Any, building_id: UUID) -> Any:
        """Say what to clean on the next visit, and what that avoids; empty before a forecast."""
        building = self.get_or_404(register.get_building, building_id=building_id)
        form = forms.Choose(
            {name: self.asked(name) for name in ("on", "until", "accepted", "count")}
        )
        form.is_valid()  # as on the page: what makes no sense is left to the usual
        said = form.cleaned_data
        listed = services.list_cleaning(
            building=building,
            today=building.day_at(now()),
            clean_on=said.get("on"),
            after_on=said.get("until"),
            count=said.get("count"),
            accepted=said.get("accepted"),
        )
        if listed is None:
            return {"rows": []}
        names = ("after_on", "come_by", "target", "expected", "avoided", "hours")
        rows = services.rows_of(listed=listed)
        return {name: getattr(listed, name) for name in names} | {
            "visit_on": listed.visit.on,
            "rows": rows,
        }

    @operation(
        PLANNED,
        Permission.MANAGE,
        takes=PlanCleaning,
        status=201,
        example={"planned_on": "2026-12-16", "devices": [key("device_id")]},
    )
    def post(self, request: Any, building_id: UUID) -> Any:
        """Plan a visit that reads, cleans and reads again the detectors that are named."""
        building = self.get_or_404(register.get_building, building_id=building_id)
        devices = register.list_devices(building=building)
        said = self.read(
            PlanCleaning, devices=[(str(one.pk), one.address) for one in devices]
        ).cleaned_data
        return services.plan_cleaning_visit(
            building=building,
            device_ids=[UUID(one) for one in said["devices"]],
            planned_on=said["planned_on"],
            visit_id=said["visit_id"] or uuid7(),
            **self.now_and_member(),
        )


class Policy(_Drift):
    """What the firm wants to be told of."""

    missing: ClassVar = ()

    @operation(POLICY)
    def get(self, request: Any) -> Any:
        """Show what the firm wants to be told of, and how much soiling it accepts."""
        return _as_typed(queries.get_policy(firm_id=self.firm_id))

    @operation(POLICY, Permission.MANAGE, takes=forms.Policy, partly=True, example={"chance": 25})
    def patch(self, request: Any) -> Any:
        """Change it; cleaning lists go by it at once, notices from the next night on."""
        stands = _as_typed(queries.get_policy(firm_id=self.firm_id))
        said = self.read(forms.Policy, row=SimpleNamespace(**stands)).cleaned_data
        return _as_typed(
            services.change_policy(
                firm_id=self.firm_id,
                chance_threshold=said["chance"] / 100,
                accepted_share=said["accepted"] / 100,
                minutes_a_cleaning=said["minutes"],
                **self.now_and_member(),
            )
        )


def _as_typed(policy: Any) -> dict[str, Any]:
    return {
        "chance": 100 * policy.chance_threshold,
        "accepted": 100 * policy.accepted_share,
        "minutes": policy.minutes_a_cleaning,
    }


class Questions(_Drift):
    """What looks sudden."""

    @operation(QUESTION, many=True)
    def get(self, request: Any) -> Any:
        """List what looks sudden and nobody has answered yet."""
        return self.page(queries.list_questions(firm_id=self.firm_id))


class QuestionAnswered(_Drift):
    """A question answered."""

    @operation(
        QUESTION,
        Permission.MANAGE,
        takes=forms.Answered,
        example={"said": "yes", "happened_on": "2025-08-04", "note": "cleaned by the owner"},
    )
    def post(self, request: Any, question_id: UUID) -> Any:
        """Say what happened; a cleaning that is confirmed begins a new run."""
        found = self.get_or_404(queries.get_question, question_id=question_id)
        said = self.read(forms.Answered).cleaned_data
        return services.answer(question=found, **said, **self.now_and_member())
