"""What is stated on a visit, for programs."""

from typing import Any
from uuid import UUID

from django import forms as fields

from contractor.programs.examples import key
from contractor.programs.resource import operation
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.visits import forms, queries, services
from contractor.visits.api.shared import DEVICE, ENTRIES, ENTRY, PLACE, OneVisit


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
            "address": "2-199",
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
