"""Labels for programs: which code hangs on which device, and runs of printed labels."""

from typing import Any
from uuid import UUID

from django import forms as fields
from django.conf import settings
from django.http import HttpResponse
from rest_framework.renderers import JSONRenderer

from contractor.labels import forms, queries, services, sheets
from contractor.labels.stocks import STOCKS
from contractor.programs.examples import key
from contractor.programs.resource import Filter, Resource, operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission

LABEL = Shape(
    "Label",
    id="id",
    code="text",
    is_ours="flag",
    device_id="id?",
    is_disputed="flag",
    made_at="instant",
    retired_at="instant?",
    retired_reason="text",
)
BINDING = Shape(
    "LabelBinding",
    id="id",
    label_id="id",
    device_id="id?",
    replaces="words",
    reason="text",
    tablet="text",
    bound_at="instant",
    stored_at="instant",
)
HISTORY = Shape("LabelHistory", label=LABEL, bindings=[BINDING])
RUN = Shape(
    "LabelRun",
    id="id",
    building_id="id?",
    stock="text",
    first="whole",
    count="whole",
    again="whole",
    reason="text",
    printed_at="instant",
)


class Settle(forms.Reason):
    """Which device a disputed code names, and why."""

    device_id = fields.UUIDField(label="Key of the device")


class Pdf(JSONRenderer):
    """Let a program ask for a PDF by its media type; problems are JSON all the same."""

    media_type = "application/pdf"
    format = "pdf"


class OfLabels(Resource):
    """What the addresses of labels share."""

    group = "Labels"
    refusals = (services.UnableToBind, services.UnableToPrint, sheets.TooSmall)
    missing = (*queries.Missing, *register.Missing)

    def label(self, label_id: UUID) -> Any:
        """The label of the address."""
        return self.get_or_404(queries.get_label, label_id=label_id)

    def run(self, run_id: UUID) -> Any:
        """The run of the address."""
        return self.get_or_404(queries.get_run, run_id=run_id)

    def say(self, act: Any, label: Any, reason: str, **more: Any) -> Any:
        """Have something said of a label; give it as it stands then."""
        act(label=label, reason=reason, **more, **self.now_and_member())
        return self.label(label.pk)


class DeviceLabels(OfLabels):
    """The codes on a device."""

    @operation(LABEL, many=True)
    def get(self, request: Any, device_id: UUID) -> Any:
        """List the codes that hang on a device."""
        device = self.get_or_404(register.get_device, device_id=device_id)
        return self.whole(queries.list_labels_of(device=device))

    @operation(
        LABEL,
        Permission.MANAGE,
        takes=forms.Bind,
        status=201,
        example={"code": "PANEL-0042", "reason": ""},
    )
    def post(self, request: Any, device_id: UUID) -> Any:
        """Bind a code to a device; from another device it moves only with a reason."""
        device = self.get_or_404(register.get_device, device_id=device_id)
        said = self.read(forms.Bind).cleaned_data
        return services.bind(
            text=said["code"], device=device, reason=said["reason"], **self.now_and_member()
        )


class FoundLabels(OfLabels):
    """Labels by their code."""

    @operation(LABEL, many=True, filters=(Filter("code", "As scanned.", example="INV-7781"),))
    def get(self, request: Any) -> Any:
        """Find the label that bears a code; without a code, those that are disputed."""
        if code := self.asked("code"):
            found = queries.find_label(firm_id=self.firm_id, text=code)
            return self.whole([found] if found else [])
        return self.whole(queries.list_disputed(firm_id=self.firm_id))


class OneLabel(OfLabels):
    """One code."""

    @operation(HISTORY)
    def get(self, request: Any, label_id: UUID) -> Any:
        """Show a code, and all that was said of it."""
        found = self.label(label_id)
        return {"label": found, "bindings": queries.list_bindings(label=found)}


class LabelOff(OfLabels):
    """A code taken off."""

    @operation(LABEL, Permission.MANAGE, takes=forms.Reason, example={"reason": "It fell off."})
    def post(self, request: Any, label_id: UUID) -> Any:
        """Note that a code hangs on nothing any more."""
        label = self.label(label_id)
        return self.say(services.take_off, label, self.read(forms.Reason).cleaned_data["reason"])


class LabelRetired(OfLabels):
    """A code retired."""

    @operation(LABEL, Permission.MANAGE, takes=forms.Reason, example={"reason": "Torn in two."})
    def post(self, request: Any, label_id: UUID) -> Any:
        """Take a code out of use for good."""
        label = self.label(label_id)
        return self.say(services.retire, label, self.read(forms.Reason).cleaned_data["reason"])


class LabelSettled(OfLabels):
    """A dispute settled."""

    @operation(
        LABEL,
        Permission.MANAGE,
        takes=Settle,
        example={"device_id": key("device_id"), "reason": "Seen there this morning."},
        keys={"label_id": "disputed_label_id"},
    )
    def post(self, request: Any, label_id: UUID) -> Any:
        """Decide which device a code names that several people have bound apart."""
        label = self.label(label_id)
        said = self.read(Settle).cleaned_data
        device = self.named("device_id", register.get_device, device_id=said["device_id"])
        return self.say(services.settle_dispute, label, said["reason"], device=device)


class BuildingRuns(OfLabels):
    """A building's runs."""

    @operation(RUN, many=True)
    def get(self, request: Any, building_id: UUID) -> Any:
        """List the runs of labels that were laid down for a building."""
        building = self.get_or_404(register.get_building, building_id=building_id)
        return self.page(queries.list_runs(firm_id=self.firm_id, building=building))

    @operation(
        RUN,
        Permission.MANAGE,
        takes=forms.Printing,
        status=201,
        example={"stock": "a4-24", "which": "none", "empty": 4},
    )
    def post(self, request: Any, building_id: UUID) -> Any:
        """Lay a building's labels down for printing; fetch them as a PDF from the run."""
        building = self.get_or_404(register.get_building, building_id=building_id)
        said = self.read(
            forms.Printing,
            areas=[(str(one.pk), one.name) for one in register.list_areas(building=building)],
            kinds=queries.list_kinds(building=building),
        ).cleaned_data
        devices = [
            *(
                queries.list_devices(
                    building=building, show=said["which"], area=said["area"], kind=said["kind"]
                )
                if said["which"] != "no"
                else ()
            )
        ]
        sheets.check_room(stock=STOCKS[said["stock"]], server=settings.BASE_URL)
        return services.print_labels(
            firm_id=self.firm_id,
            building=building,
            devices=devices,
            empty=said["empty"] or 0,
            stock=said["stock"],
            first=said["first"],
            reason=said["reason"],
            **self.now_and_member(),
        )


class RunAgain(OfLabels):
    """A run printed again."""

    @operation(
        RUN,
        Permission.MANAGE,
        takes=forms.Again,
        status=201,
        example={"reason": "The sheet was creased."},
    )
    def post(self, request: Any, run_id: UUID) -> Any:
        """Lay the same labels down once more, as a run of its own."""
        run = self.run(run_id)
        said = self.read(forms.Again).cleaned_data
        return services.print_again(run=run, **said, **self.now_and_member())


class RunPdf(OfLabels):
    """A run's sheets."""

    renderer_classes = (JSONRenderer, Pdf)

    @operation(None, media="application/pdf")
    def get(self, request: Any, run_id: UUID) -> Any:
        """Download the labels of a run as sheets to be printed."""
        found = self.run(run_id)
        data = services.draw_run(run=found, server=settings.BASE_URL)
        answer = HttpResponse(data, content_type="application/pdf")
        answer["Content-Disposition"] = 'attachment; filename="labels.pdf"'
        return answer
