"""Visits for programs: plan, begin, enter, hand in, review, sign off, amend."""

from typing import Any, ClassVar
from uuid import UUID

from django import forms as fields
from django.http import Http404
from rest_framework.exceptions import ValidationError

from contractor.due.services import day_in
from contractor.programs.examples import key
from contractor.programs.resource import Filter, Resource, now, operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.tenancy import queries as tenancy
from contractor.tenancy.permissions import Permission
from contractor.visits import cautions, forms, queries, services

VISIT = Shape(
    "Visit",
    id="id",
    building_id="id",
    building="text:building.name",
    planned_on="day",
    state="text",
    tasks="words",
    frequency="text",
    purpose="text",
    instructions="text",
    began_at="instant?",
    sent_back="text",
    handed_in_at="instant?",
    notified_before="text",
    notified_after="text",
    signed_off_at="instant?",
)
ENTRY = Shape(
    "Entry",
    id="id",
    visit_id="id",
    device_id="id?",
    member_id="id",
    kind="text",
    task="text",
    stage="text",
    result="text",
    reason="text",
    text="text",
    reading_id="id?",
    supersedes="words",
    tablet="text",
    made_at="instant",
    stored_at="instant",
)
ENTRIES = Shape("Entries", entries=[ENTRY])
PLACE = Shape(
    "VisitDevice",
    device_id="id:device.id",
    address="text:device.address",
    label="text:device.label",
    kind="text:device.kind",
    outcome="text:state.outcome",
    missing="words:state.missing",
    is_done="flag",
    is_cleaned="flag",
    is_replaced="flag",
    standing=[ENTRY],
)
RECORD = Shape(
    "SealedRecord",
    id="id",
    visit_id="id",
    revision="whole",
    record_hash="text",
    chain_number="whole",
    chain_hash="text",
    reason="text",
    sealed_at="instant",
)
CAUTIONS = Shape("Cautions", cautions="words")
REVIEW = Shape(
    "Review", visit=VISIT, counts="any", verdicts="any", missing="words", conflicts="any"
)
DEVICE = Shape(
    "AddedDevice", id="id", address="text", label="text", kind="text", system_id="id", area_id="id?"
)
STATES = ("planned", "under_way", "to_review", "signed_off", "cancelled")


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


class Note(forms.Entered):
    """A note on a visit, or on one of its devices."""

    text = fields.CharField(max_length=2000)
    device_id = fields.UUIDField(required=False)


class TakeBack(forms.Entered):
    """Which entries are taken back."""

    entries = fields.MultipleChoiceField(label="Keys of standing entries of this device")

    def __init__(self, *args: Any, standing: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["entries"].choices = standing  # type: ignore[attr-defined]


class OneVisit(Resource):
    """What the addresses of visits share."""

    group = "Visits"
    refusals: ClassVar = (
        services.UnableToPlan,
        services.UnableToEnter,
        services.UnableToClose,
        services.UnableToAmend,
    )
    missing: ClassVar = (*queries.Missing, *register.Missing)

    def visit(self, visit_id: UUID) -> Any:
        """The visit of the address."""
        return self.get_or_404(queries.get_visit, visit_id=visit_id)

    def place(self, visit_id: UUID, device_id: UUID) -> tuple[Any, Any]:
        """The visit, and the place on it of the device of the address."""
        visit = self.visit(visit_id)
        device = self.get_or_404(register.get_device, device_id=device_id)
        place = queries.load_round(visit=visit, device=device).find(device.pk)
        if place is None:
            raise Http404
        return visit, place

    def people(self) -> list[tuple[str, str]]:
        """Who may be sent."""
        return [(str(one.pk), one.name) for one in tenancy.list_members(firm_id=self.firm_id)]


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
        today = day_in(building=building, now=now())
        people = [UUID(one) for one in said["people"]]
        warnings = queries.list_warnings(
            building=building,
            planned_on=said["planned_on"],
            today=today,
            member_ids=people,
            but=said["visit_id"],
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


class VisitDevices(OneVisit):
    """A visit's devices with everything stated about each."""

    @operation(PLACE, many=True)
    def get(self, request: Any, visit_id: UUID) -> Any:
        """List a visit's devices in walking order, each with what stands, all on one page."""
        return self.whole(queries.load_round(visit=self.visit(visit_id)).places)

    @operation(
        DEVICE,
        Permission.RECORD_TESTS,
        takes=forms.FoundDevice,
        status=201,
        example={
            "address": "L2D199",
            "kind": "smoke",
            "label": "Store room",
            "system": key("system_id"),
        },
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Add a device that hangs there and is on no list."""
        visit = self.visit(visit_id)
        areas = {str(one.pk): one for one in register.list_areas(building=visit.building)}
        systems = {str(one.pk): one for one in register.list_systems(building=visit.building)}
        said = self.read(
            forms.FoundDevice,
            areas=[(pk, str(one)) for pk, one in areas.items()],
            systems=[(pk, str(one)) for pk, one in systems.items()],
        ).cleaned_data
        return services.add_found(
            visit=visit,
            system=systems[said["system"]],
            area=areas.get(said["area"]),
            address=said["address"],
            kind=said["kind"],
            label=said["label"],
            **self.now_and_member(),
        )


class Entries(OneVisit):
    """Everything that was stated on a visit."""

    @operation(ENTRY, many=True)
    def get(self, request: Any, visit_id: UUID) -> Any:
        """List a visit's entries, those that were taken back too."""
        return self.page(queries.list_entries(visit=self.visit(visit_id)))


class Notes(OneVisit):
    """Notes on a visit."""

    @operation(
        ENTRY,
        Permission.RECORD_TESTS,
        takes=Note,
        status=201,
        example={"text": "The key for the plant room is with the night desk."},
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Write a note on a visit, or on one of its devices."""
        visit = self.visit(visit_id)
        form = self.read(Note)
        said, device = form.cleaned_data, None
        if said["device_id"]:
            device = self.place(visit_id, said["device_id"])[1].device
        return services.note(
            visit=visit,
            text=said["text"],
            device=device,
            entry_id=said["entry_id"],
            **self.now_and_member(),
        )


class Pass(OneVisit):
    """A device passed."""

    @operation(ENTRIES, Permission.RECORD_TESTS, takes=forms.Entered, status=201, example={})
    def post(self, request: Any, visit_id: UUID, device_id: UUID) -> Any:
        """Record that one device passed what was tested on it."""
        visit, place = self.place(visit_id, device_id)
        by = self.read(forms.Entered).by()
        made = services.pass_device(visit=visit, device=place.device, **by, **self.now_and_member())
        return {"entries": made}


class Fail(OneVisit):
    """A device failed."""

    @operation(
        ENTRIES,
        Permission.RECORD_TESTS,
        takes=forms.Reason,
        status=201,
        example={"task": "functional", "reason": "no alarm at the control unit"},
    )
    def post(self, request: Any, visit_id: UUID, device_id: UUID) -> Any:
        """Record that one task of a device failed, and why; a finding is opened."""
        visit, place = self.place(visit_id, device_id)
        form = self.read(forms.Reason)
        made = services.record_result(
            visit=visit,
            device=place.device,
            task=form.cleaned_data["task"],
            result="fail",
            reason=form.said(),
            **form.by(),
            **self.now_and_member(),
        )
        return {"entries": [made]}


class NotTested(OneVisit):
    """A device was not tested."""

    @operation(
        ENTRIES,
        Permission.RECORD_TESTS,
        takes=forms.Reason,
        status=201,
        example={"reason": "no access"},
    )
    def post(self, request: Any, visit_id: UUID, device_id: UUID) -> Any:
        """Say why a device was not tested: one task of it, or all that is open."""
        visit, place = self.place(visit_id, device_id)
        form = self.read(forms.Reason)
        made = services.record_not_tested(
            visit=visit,
            device=place.device,
            task=form.cleaned_data["task"],
            reason=form.said(),
            **form.by(),
            **self.now_and_member(),
        )
        return {"entries": made}


class ReadDevice(OneVisit):
    """A sensitivity reading."""

    @operation(
        ENTRIES,
        Permission.RECORD_TESTS,
        takes=forms.ReadingForm,
        status=201,
        example={"stage": "as_found", "measured": "2.4", "unit": "%/ft", "method": "control_unit"},
    )
    def post(self, request: Any, visit_id: UUID, device_id: UUID) -> Any:
        """Record a sensitivity reading, as found or as left; it is judged."""
        visit, place = self.place(visit_id, device_id)
        instruments = {str(one.pk): one for one in register.list_instruments(firm_id=self.firm_id)}
        form = self.read(
            forms.ReadingForm, instruments=[(pk, one.name) for pk, one in instruments.items()]
        )
        said = form.cleaned_data
        made = services.record_sensitivity(
            visit=visit,
            device=place.device,
            said=form.typed(),
            stage=said["stage"],
            method=said["method"],
            instrument=instruments.get(said["instrument"]),
            override_state=said["override_state"],
            override_reason=said["override_reason"],
            **form.by(),
            **self.now_and_member(),
        )
        return {"entries": [made]}


class Cleaned(OneVisit):
    """A detector was cleaned."""

    @operation(
        ENTRIES,
        Permission.RECORD_TESTS,
        takes=forms.Entered,
        status=201,
        example={},
        keys={"device_id": "second_device_id"},
    )
    def post(self, request: Any, visit_id: UUID, device_id: UUID) -> Any:
        """Record that a detector was cleaned; it is read again as left."""
        visit, place = self.place(visit_id, device_id)
        by = self.read(forms.Entered).by()
        del by["seen"]
        made = services.clean(visit=visit, device=place.device, **by, **self.now_and_member())
        return {"entries": [made]}


class Replaced(OneVisit):
    """A device was replaced."""

    @operation(
        DEVICE,
        Permission.RECORD_TESTS,
        takes=forms.Reason,
        status=201,
        example={"serial": "P2-88120", "reason": "broken"},
    )
    def post(self, request: Any, visit_id: UUID, device_id: UUID) -> Any:
        """Record that a device was replaced; the new one, which is answered, is tested next."""
        visit, place = self.place(visit_id, device_id)
        form = self.read(forms.Reason)
        return services.replace(
            visit=visit,
            device=place.device,
            serial=form.cleaned_data["serial"],
            reason=form.said(),
            **form.by(),
            **self.now_and_member(),
        )


class TakenBack(OneVisit):
    """Entries taken back."""

    @operation(
        ENTRIES,
        Permission.RECORD_TESTS,
        takes=TakeBack,
        status=201,
        example={"entries": [key("entry_id")]},
        keys={"device_id": "second_device_id"},
    )
    def post(self, request: Any, visit_id: UUID, device_id: UUID) -> Any:
        """Take standing entries about a device back: they stay on record and no longer count."""
        visit, place = self.place(visit_id, device_id)
        form = self.read(TakeBack, standing=[(str(one.pk), one.kind) for one in place.standing])
        by = form.by()
        del by["seen"]
        entries = [UUID(one) for one in form.cleaned_data["entries"]]
        made = services.take_back(
            visit=visit, device=place.device, entries=entries, **by, **self.now_and_member()
        )
        return {"entries": made}


class HandedIn(OneVisit):
    """A visit handed in."""

    @operation(
        VISIT,
        Permission.RECORD_TESTS,
        takes=forms.HandIn,
        example={"notified_after": "Station 7, 15:40", "reason_for_rest": "no access"},
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Hand a visit in for review; what nobody touched gets the reason given here."""
        found = self.visit(visit_id)
        said = self.read(forms.HandIn).cleaned_data
        return services.hand_in(visit=found, **said, **self.now_and_member())


class Reviewed(OneVisit):
    """What a review shows."""

    @operation(REVIEW, Permission.SIGN_OFF, keys={"visit_id": "reviewed_id"})
    def get(self, request: Any, visit_id: UUID) -> Any:
        """Show what stands in the way of signing a visit off, and what is to be decided."""
        visit = self.visit(visit_id)
        gone_round = queries.load_round(visit=visit)
        return {
            "visit": visit,
            "counts": gone_round.counts,
            "verdicts": queries.count_verdicts(places=gone_round.places),
            "missing": services.what_is_missing(visit=visit, gone_round=gone_round)
            if visit.state == "to_review"
            else [],
            "conflicts": [
                {
                    "device_id": one.device.pk,
                    "task": one.task,
                    "words": one.words,
                    "entries": [entry.pk for entry in one.entries],
                }
                for one in queries.list_conflicts(places=gone_round.places)
            ],
        }


class Decision(OneVisit):
    """Which of several statements holds."""

    @operation(
        ENTRY,
        Permission.SIGN_OFF,
        takes=forms.Resolve,
        status=201,
        example={
            "task": "functional",
            "holds": key("first_entry_id"),
            "seen": f"{key('first_entry_id')} {key('second_entry_id')}",
            "reason": "The second tester stood at the panel.",
        },
        keys={"visit_id": "handed_in_id", "device_id": "device_id"},
    )
    def post(self, request: Any, visit_id: UUID, device_id: UUID) -> Any:
        """Decide which of several statements about a device holds; all stay on record."""
        visit, place = self.place(visit_id, device_id)
        said = self.read(forms.Resolve).cleaned_data
        if said["holds"] is None:
            raise ValidationError({"holds": ["Name the entry that holds."]})
        return services.resolve(
            visit=visit,
            device=place.device,
            task=said["task"],
            holds=said["holds"],
            reason=said["reason"],
            seen=said["seen"].split(),
            entry_id=said["entry_id"],
            **self.now_and_member(),
        )


class SentBack(OneVisit):
    """A visit sent back."""

    @operation(
        VISIT,
        Permission.SIGN_OFF,
        takes=forms.SendBack,
        example={"reason": "Zone 4 is missing."},
        keys={"visit_id": "reviewed_id"},
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Send a visit back to its technician."""
        found = self.visit(visit_id)
        reason = self.read(forms.SendBack).cleaned_data["reason"]
        return services.send_back(visit=found, reason=reason, **self.now_and_member())


class SignedOff(OneVisit):
    """A visit signed off."""

    @operation(RECORD, Permission.SIGN_OFF, status=201, keys={"visit_id": "reviewed_id"})
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Sign a visit off: the record is frozen and its report is made."""
        return services.sign_off(visit=self.visit(visit_id), **self.now_and_member())


class Records(OneVisit):
    """A visit's sealed revisions."""

    @operation(RECORD, many=True, keys={"visit_id": "signed_off_id"})
    def get(self, request: Any, visit_id: UUID) -> Any:
        """List a visit's sealed revisions."""
        return self.page(queries.list_records(visit=self.visit(visit_id)))

    @operation(
        RECORD,
        Permission.SIGN_OFF,
        takes=forms.Amend,
        status=201,
        example={
            "revision": 1,
            "device": key("device_id"),
            "task": "functional",
            "result": "fail",
            "result_reason": "no alarm at the control unit",
            "reason": "The tester read the wrong line of the log.",
        },
        keys={"visit_id": "signed_off_id"},
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Amend a sealed record: the earlier revision stays, a new one is made."""
        visit = self.visit(visit_id)
        places = queries.load_round(visit=visit).places
        form = self.read(
            forms.Amend, devices=[(str(one.device.pk), one.device.address) for one in places]
        )
        said = form.cleaned_data
        change = services.Amendment(
            device_id=UUID(said["device"]),
            task=said["task"],
            result=said["result"],
            reason=said["result_reason"],
            said=form.typed(),
            stage=said["stage"],
        )
        return services.amend(
            visit=visit,
            reason=said["reason"],
            changes=[change],
            revision=said["revision"],
            **self.now_and_member(),
        )
