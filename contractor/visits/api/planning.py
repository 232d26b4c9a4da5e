"""Visits for programs, until they begin: plan, move, cancel, begin."""

from typing import Any
from uuid import UUID

from django import forms as fields

from contractor.programs.examples import key
from contractor.programs.resource import Filter, now, operation
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.visits import cautions, forms, queries, services
from contractor.visits.api.shared import CAUTIONS, STATES, VISIT, OneVisit


class Plan(forms.Plan):
    """Where, when, who and what for; to named devices, if any are named."""

    visit_id = fields.UUIDField(required=False, label="Its key, if the program makes it")
    devices = fields.MultipleChoiceField(required=False, label="Only to these devices")
    accept_warnings = fields.BooleanField(
        required=False, label="Plan it although something speaks against it"
    )

    def __init__(self, *args: Any, devices: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["devices"].choices = devices  # type: ignore[attr-defined]


class Cancel(fields.Form):
    """Why a visit is cancelled."""

    reason = fields.CharField(max_length=200)


class Visits(OneVisit):
    """The firm's visits."""

    @operation(
        VISIT,
        many=True,
        filters=(
            Filter("show", "Those that are open, or in one state.", ("open", *STATES)),
            Filter("by", "Only those of one member.", kind="id", example=key("member_id")),
        ),
    )
    def get(self, request: Any) -> Any:
        """List visits."""
        show = self.asked("show", "open")
        return self.page(
            queries.list_visits(
                firm_id=self.firm_id,
                states=queries.OPEN if show == "open" else (show,),
                member_id=self.asked_id("by"),
            )
        )


class BuildingVisits(OneVisit):
    """A building's visits."""

    @operation(
        VISIT,
        Permission.MANAGE,
        takes=Plan,
        status=201,
        example={
            "planned_on": "2026-12-15",
            "tasks": ["functional"],
            "people": [key("member_id")],
            "purpose": "Annual test",
            "accept_warnings": True,
        },
    )
    def post(self, request: Any, building_id: UUID) -> Any:
        """Plan a visit.

        What speaks against it refuses it once, in sentences; send `accept_warnings` to plan it all
        the same.
        """
        building = self.get_or_404(register.get_building, building_id=building_id)
        devices = register.list_devices(building=building)
        said = self.read(
            Plan,
            people=self.people(),
            areas=[(str(a.pk), str(a)) for a in register.list_areas(building=building)],
            devices=[(str(one.pk), one.address) for one in devices],
        ).cleaned_data
        today = building.day_at(now())
        people = [UUID(one) for one in said["people"]]
        warnings = queries.list_warnings(
            building=building,
            planned_on=said["planned_on"],
            today=today,
            member_ids=people,
            but=said["visit_id"],
            tasks=said["tasks"],
        )
        if warnings and not said["accept_warnings"]:
            raise services.UnableToPlan(" ".join(warnings))
        device_ids = [UUID(one) for one in said["devices"]] or queries.choose_devices(
            building=building,
            which=said["which"],
            area_ids=[UUID(one) for one in said["areas"]],
            until=said["planned_on"],
            tasks=said["tasks"],
        )
        names = ("planned_on", "tasks", "purpose", "frequency", "instructions", "visit_id")
        return services.plan_visit(
            building=building,
            member_ids=people,
            device_ids=device_ids,
            **{name: said[name] for name in names},
            **self.now_and_member(),
        )


class Visit(OneVisit):
    """One visit."""

    @operation(VISIT)
    def get(self, request: Any, visit_id: UUID) -> Any:
        """Show a visit."""
        return self.visit(visit_id)

    @operation(
        VISIT,
        Permission.MANAGE,
        takes=forms.ChangePlan,
        partly=True,
        example={"planned_on": "2026-12-18"},
        keys={"visit_id": "planned_id"},
    )
    def patch(self, request: Any, visit_id: UUID) -> Any:
        """Move a visit, or send other people."""
        found = self.visit(visit_id)
        found.people = [str(one.pk) for one in queries.list_people(visits=[found])[found.pk]]
        said = dict(self.read(forms.ChangePlan, row=found, people=self.people()).cleaned_data)
        people = [UUID(one) for one in said.pop("people")]
        return services.change_plan(visit=found, member_ids=people, **said, **self.now_and_member())


class Cancellation(OneVisit):
    """A visit cancelled."""

    @operation(
        VISIT,
        Permission.MANAGE,
        takes=Cancel,
        example={"reason": "The building is closed that week."},
        keys={"visit_id": "planned_id"},
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Cancel a visit on which nothing was entered."""
        found = self.visit(visit_id)
        reason = self.read(Cancel).cleaned_data["reason"]
        return services.cancel_visit(visit=found, reason=reason, **self.now_and_member())


class Beginning(OneVisit):
    """What is to be known before a visit begins; and its beginning."""

    @operation(CAUTIONS, keys={"visit_id": "planned_id"})
    def get(self, request: Any, visit_id: UUID) -> Any:
        """List the cautions that whoever begins has to have read."""
        return {"cautions": cautions.list_cautions(building=self.visit(visit_id).building)}

    @operation(
        VISIT,
        Permission.RECORD_TESTS,
        takes=forms.Begin,
        example={
            "cautions": list(cautions.CAUTIONS),
            "notified_before": "Station 7, operator 12, 08:05",
        },
        keys={"visit_id": "planned_id"},
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Begin a visit: give back every caution as it was listed, and say who was told."""
        found = self.visit(visit_id)
        listed = cautions.list_cautions(building=found.building)
        said = self.read(forms.Begin, cautions=listed).cleaned_data
        return services.begin_visit(visit=found, **said, **self.now_and_member())
