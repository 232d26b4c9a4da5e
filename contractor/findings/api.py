"""Findings for programs: raise, step, notice, round, restore, close."""

from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django import forms as fields
from rest_framework.exceptions import ValidationError

from contractor.findings import forms, queries, services
from contractor.programs.examples import key
from contractor.programs.resource import Filter, Resource, now, operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.tenancy.days import CLOCK, Clock, Day
from contractor.tenancy.permissions import Permission

FINDING = Shape(
    "Finding",
    id="id",
    building_id="id",
    building="text:building.name",
    device_id="id?",
    device="text?:device.address",
    severity="text",
    title="text",
    text="text",
    disposition="text",
    found_at="instant",
    found_on="day",
    visit_id="id?",
    owner_told_at="instant?",
    out_since="instant?",
    out_what="text",
    back_at="instant?",
    corrected_on="day?",
    correction="text",
    proof="text",
)
STEP = Shape(
    "FindingStep",
    id="id",
    kind="text",
    at="instant",
    whom="text",
    how="text",
    amount="decimal?",
    planned_on="day?",
    text="text",
    by="text",
    recorded_at="instant",
)
OWED = Shape(
    "OwedNotice",
    duty="text:key",
    whom="text:duty.whom",
    how="text:duty.how",
    clause="text:duty.clause",
    by="text:by_words",
    given_at="instant?:given.given_at",
    is_late="flag",
)
ROUND = Shape("WatchRound", id="id", walked_at="instant", name="text", text="text")
TITLE = Shape("FindingTitle", id="id", title="text", severity="text", text="text", ended_on="day?")
#: What each tab of the page shows, by disposition.
SHOWN = {
    "all": (),
    "untold": ("open",),
    "quotes": ("quote_asked", "quoted"),
    "approved": ("approved", "scheduled"),
    "refused": ("refused",),
}


class NewFinding(forms.WriteFinding):
    """Something wrong in a building, and at which device."""

    device_id = fields.UUIDField(required=False, label="At which device")


class Step(fields.Form):
    """One step; which of the fields are asked hangs on its kind."""

    kind = fields.ChoiceField(
        choices=[
            (one, one) for one in ("quote_asked", "quoted", "approved", "refused", "scheduled")
        ]
    )
    whom = fields.CharField(max_length=160, required=False)
    at = Clock(required=False, label="When, by the building’s clock")
    text = fields.CharField(required=False)
    amount = fields.DecimalField(
        min_value=0, max_digits=10, decimal_places=2, required=False, label="Of a quote"
    )
    planned_on = Day(required=False, label="Of a repair")


#: The page's own form of each kind of step.
STEPS: dict[str, Any] = {
    "quote_asked": forms.AskQuote,
    "quoted": forms.Quote,
    "approved": forms.Answer,
    "refused": forms.Answer,
    "scheduled": forms.ScheduleRepair,
}


class Give(forms.GiveNotice):
    """One notice was given, and which."""

    duty = fields.CharField(max_length=80, label="Its key in the list of owed notices")


class Findings(Resource):
    """The firm's findings."""

    group = "Findings"
    refusals = (services.UnableToChange,)
    missing = (*queries.Missing, *register.Missing)

    @operation(
        FINDING,
        many=True,
        filters=(Filter("show", "Which of them.", (*SHOWN, "closed"), example="all"),),
    )
    def get(self, request: Any) -> Any:
        """List findings: the open ones, those of one tab of the page, or the closed."""
        show = self.asked("show", "all")
        if show == "closed":
            return self.page(queries.list_closed(firm_id=self.firm_id))
        found = queries.list_open(firm_id=self.firm_id)
        if SHOWN[show]:
            found = found.filter(disposition__in=SHOWN[show])
        return self.page(found)


class BuildingFindings(Findings):
    """A building's findings."""

    def _building(self, building_id: UUID) -> Any:
        return self.get_or_404(register.get_building, building_id=building_id)

    @operation(FINDING, many=True)
    def get(self, request: Any, building_id: UUID) -> Any:
        """List every finding of a building, open or put right."""
        return self.page(
            queries.list_in(building=self._building(building_id)).select_related(
                "building", "device"
            )
        )

    @operation(
        FINDING,
        Permission.RECORD_TESTS,
        takes=NewFinding,
        status=201,
        example={
            "title": "Cable tray loose above detector",
            "severity": "deficiency",
            "device_id": key("device_id"),
        },
    )
    def post(self, request: Any, building_id: UUID) -> Any:
        """Raise a finding. Without a severity the firm's list of usual ones decides."""
        building = self._building(building_id)
        titles = queries.list_titles(firm_id=self.firm_id)
        said = self.read(NewFinding, titles=titles).cleaned_data
        device_id, device = said.pop("device_id"), None
        if device_id:
            device = self.named("device_id", register.get_device, device_id=device_id)
            if device.building_id != building.pk:
                raise ValidationError({"device_id": ["This device is in another building."]})
        return services.open_finding(
            building=building, device=device, **said, **self.now_and_member()
        )


class OneFinding(Resource):
    """What the addresses below one finding share."""

    group = "Findings"
    refusals = (services.UnableToChange,)
    missing = queries.Missing

    def finding(self, finding_id: UUID) -> Any:
        """The finding of the address."""
        return self.get_or_404(queries.get_finding, finding_id=finding_id)

    def deed(self, form: Any, found: Any) -> dict[str, Any]:
        """Read what was done, by the building's clock."""
        said: dict[str, Any] = self.read(
            form, zone=found.building.time_zone, now=now()
        ).cleaned_data
        return said


class Finding(OneFinding):
    """One finding."""

    @operation(FINDING)
    def get(self, request: Any, finding_id: UUID) -> Any:
        """Show a finding."""
        return self.finding(finding_id)


class Steps(OneFinding):
    """What was done about a finding."""

    @operation(STEP, many=True)
    def get(self, request: Any, finding_id: UUID) -> Any:
        """List what was done about a finding."""
        return self.page(queries.list_steps(finding=self.finding(finding_id)))

    @operation(
        STEP,
        Permission.MANAGE,
        takes=Step,
        status=201,
        example={
            "kind": "quoted",
            "amount": 480.5,
            "whom": "M. Lund-Avery",
            "at": "2026-11-24T10:00",
        },
    )
    def post(self, request: Any, finding_id: UUID) -> Any:
        """Write down one step: a quote asked or given, the owner's answer, a day for the repair."""
        found = self.finding(finding_id)
        self.read(Step)
        sent = {name: one for name, one in request.data.items() if one not in (None, "")}
        kind = sent.pop("kind")
        form = STEPS[kind]
        if more := sorted(set(sent) - set(form.base_fields)):
            raise ValidationError({one: [f"Not asked of “{kind}”."] for one in more})
        zone, at = found.building.time_zone, now()
        usual = {"at": at.astimezone(ZoneInfo(zone)).strftime(CLOCK)}
        filled = form(usual | sent, zone=zone, now=at)
        if not filled.is_valid():
            raise ValidationError(
                {name: [str(one) for one in e] for name, e in filled.errors.items()}
            )
        return services.add_step(
            finding=found, kind=kind, **filled.cleaned_data, **self.now_and_member()
        )


class OwnerTold(OneFinding):
    """The owner was told."""

    @operation(
        STEP,
        Permission.MANAGE,
        takes=forms.Inform,
        status=201,
        example={"whom": "M. Lund-Avery", "how": "by word", "at": "2026-11-24T11:00"},
    )
    def post(self, request: Any, finding_id: UUID) -> Any:
        """Write down that the owner was told: who, how, when."""
        found = self.finding(finding_id)
        said = self.deed(forms.Inform, found)
        return services.inform_owner(finding=found, **said, **self.now_and_member())


class OwedNotices(OneFinding):
    """The notices that a finding asks for."""

    @operation(OWED, many=True)
    def get(self, request: Any, finding_id: UUID) -> Any:
        """List the notices that a finding asks for, the earliest first, all on one page."""
        found = self.finding(finding_id)
        return self.whole(queries.list_owed(finding=found, now=now()))

    @operation(
        FINDING,
        Permission.MANAGE,
        takes=Give,
        example={
            "duty": "NFPA 72, 14.2.2.2.3 (2013) | in writing | the owner",
            "whom": "M. Lund-Avery",
            "at": "2026-11-24T11:00",
        },
        keys={"finding_id": "finding_id"},
    )
    def post(self, request: Any, finding_id: UUID) -> Any:
        """Mark one notice as given."""
        found = self.finding(finding_id)
        said = self.deed(Give, found)
        known = [one.key for one in queries.list_owed(finding=found, now=now())]
        if said["duty"] not in known:
            raise ValidationError({"duty": [f"This finding asks for: {', '.join(known)}."]})
        services.give_notice(finding=found, **said, **self.now_and_member())
        return self.finding(finding_id)


class Correction(OneFinding):
    """A finding put right."""

    @operation(
        FINDING,
        Permission.MANAGE,
        takes=forms.CorrectFinding,
        example={
            "correction": "Tray fastened.",
            "proof": "Detector tested again on 25 Nov 2026: pass.",
            "on": "2026-11-25",
        },
    )
    def post(self, request: Any, finding_id: UUID) -> Any:
        """Close a finding: how it was corrected, and which re-test proves it."""
        found = self.finding(finding_id)
        said = self.read(forms.CorrectFinding).cleaned_data
        return services.correct_finding(
            finding=found, needs_proof=True, **said, **self.now_and_member()
        )


class Outage(OneFinding):
    """Since when protection is out."""

    @operation(
        FINDING,
        Permission.MANAGE,
        takes=forms.Outage,
        example={"out_since": "2026-11-25T02:00", "out_what": "Loop 2"},
        keys={"finding_id": "impairment_id"},
    )
    def post(self, request: Any, finding_id: UUID) -> Any:
        """Say since when protection is out, and what of it."""
        found = self.finding(finding_id)
        return services.change_outage(
            finding=found, **self.deed(forms.Outage, found), **self.now_and_member()
        )


class Rounds(OneFinding):
    """The rounds of a fire watch."""

    @operation(ROUND, many=True, keys={"finding_id": "impairment_id"})
    def get(self, request: Any, finding_id: UUID) -> Any:
        """List the rounds of a fire watch."""
        return self.page(queries.list_rounds(finding=self.finding(finding_id)))

    @operation(
        ROUND,
        Permission.RECORD_TESTS,
        takes=forms.Round,
        status=201,
        example={"walked_at": "2026-11-25T06:30", "name": "R. Ibbet"},
        keys={"finding_id": "impairment_id"},
    )
    def post(self, request: Any, finding_id: UUID) -> Any:
        """Write down one round of the fire watch."""
        found = self.finding(finding_id)
        return services.add_round(
            finding=found, **self.deed(forms.Round, found), **self.now_and_member()
        )


class BackInService(OneFinding):
    """Protection back in service."""

    @operation(
        FINDING,
        Permission.MANAGE,
        takes=forms.Restore,
        example={
            "back_at": "2026-11-25T06:45",
            "correction": "Loop card replaced.",
            "proof": "Loop 2 tested again: pass.",
        },
        keys={"finding_id": "impairment_id"},
    )
    def post(self, request: Any, finding_id: UUID) -> Any:
        """Say that protection is back in service, and by which test that is proved."""
        found = self.finding(finding_id)
        return services.restore(
            finding=found, **self.deed(forms.Restore, found), **self.now_and_member()
        )


class Titles(Resource):
    """What the firm calls findings."""

    group = "Findings"
    refusals = (services.UnableToChange,)
    missing = queries.Missing

    @operation(
        TITLE,
        Permission.MANAGE,
        takes=forms.Title,
        status=201,
        example={"title": "Guard of a detector bent", "severity": "observation"},
    )
    def post(self, request: Any) -> Any:
        """Add a finding to the firm's list of usual ones."""
        facts = self.read(forms.Title).facts()
        return services.add_title(firm_id=self.firm_id, facts=facts, **self.now_and_member())
