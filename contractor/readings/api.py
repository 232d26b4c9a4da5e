"""The doors for programs: a file for a system, with the system's key or as a signed-in member."""

from typing import Any, ClassVar
from uuid import UUID

from django import forms as fields
from django.conf import settings
from django.http import Http404
from django.utils import timezone
from django.utils.translation import gettext
from rest_framework.exceptions import APIException, AuthenticationFailed, Throttled, ValidationError
from rest_framework.parsers import BaseParser, MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from contractor.engine import layouts
from contractor.programs.resource import Filter, Resource, operation
from contractor.readings import forms, limits, queries, services
from contractor.readings.answers import INTAKE, READING, ROW, UNDERSTOOD, describe
from contractor.register import queries as register
from contractor.tenancy import queries as tenancy
from contractor.tenancy.permissions import Permission
from contractor.tenancy.scope import scope
from contractor.web.limits import address_of


class Unreadable(APIException):
    """The file cannot be taken in; the message says why."""

    status_code = 422
    default_code = "unreadable"


class TooLarge(APIException):
    """The file is larger than any print-out."""

    status_code = 413
    default_code = "too_large"


class NoFile(APIException):
    """Nothing was sent."""

    status_code = 400
    default_code = "no_file"
    default_detail = "Send the file as the body of the request, or as the form field “file”."


class Raw(BaseParser):
    """Take the body as it is."""

    media_type = "*/*"

    def parse(self, stream: Any, media_type: Any = None, parser_context: Any = None) -> Any:
        """Read no more than is allowed, and one byte to know it by."""
        return stream.read(settings.UPLOAD_MAX_MB * 2**20 + 1)


def _file(request: Request) -> tuple[str, bytes]:
    """Give the name and the bytes of the file that was sent."""
    declared = str(request.META.get("CONTENT_LENGTH") or "0")
    size = int(declared) if declared.isdigit() else 0
    try:
        services.check_size(size)
    except services.UnableToTakeIn as error:
        raise TooLarge(str(error)) from None
    sent: Any = request.data
    if isinstance(sent, bytes):
        name, data = request.query_params.get("filename", "print-out"), sent
    else:
        upload = sent.get("file")
        if upload is None or isinstance(upload, str):
            raise NoFile
        name, data = upload.name, upload.read()
    if not data:
        raise NoFile
    return name[-200:], data


class HandIn(APIView):
    """Take a file with a system's key: `Authorization: Bearer KEY`, the file as the body.

    The key opens this one door for this one system. Unknown firms, unknown keys and revoked keys
    are answered alike.
    """

    door = "key:the secret of one system, which can only hand in files for it"
    authentication_classes = ()
    permission_classes = ()
    parser_classes = (MultiPartParser, Raw)
    http_method_names = ["post"]

    def get_authenticate_header(self, request: Request) -> str:
        """Say how to knock, so that a wrong key is a 401."""
        return "Bearer"

    def post(self, request: Request, firm: str) -> Response:
        """Take the file in; it waits as a draft unless the firm lets good ones pass."""
        kind, _, secret = request.META.get("HTTP_AUTHORIZATION", "").partition(" ")
        found = tenancy.find_firm(slug=firm)
        if found is None or kind.lower() != "bearer":
            raise self._refused(request)
        with scope(found.pk):
            address = services.find_by_secret(secret=secret)
            if address is None:
                raise self._refused(request)
            if limits.is_over(address.pk):
                raise Throttled(detail="Too many files within the hour. Wait, then go on.")
            name, data = _file(request)
            try:
                intake = services.take_with_key(
                    address=address, filename=name, data=data, now=timezone.now()
                )
            except services.UnableToTakeIn as error:
                raise Unreadable(str(error)) from None
            return Response(describe(intake, firm), status=201)

    @staticmethod
    def _refused(request: Request) -> APIException:
        place = address_of(request)
        if limits.tried_too_often(place):
            return Throttled(detail="Too many wrong keys. Wait a minute.")
        limits.note_wrong_key(place)
        return AuthenticationFailed("This key opens nothing. Ask the office for a new one.")


class Accepting(forms.Accept):
    """How a print-out is accepted; the good rows, or all of them."""

    rows = fields.ChoiceField(choices=[("good", "good"), ("all", "all")], initial="good")


class Said(fields.Form):
    """What a person says of one row of a draft."""

    said = fields.JSONField(label="An object of field and value, as on the page")


class Meant(fields.Form):
    """What the columns of a draft mean, and what else is asked about it."""

    columns = fields.JSONField(
        required=False,
        label="An object: by heading, or by place as #1, an object of meaning and unit",
    )
    date_order = fields.ChoiceField(choices=[("dmy", "dmy"), ("mdy", "mdy")], required=False)
    rest_kind = fields.ChoiceField(
        choices=[(one, one) for one in layouts.REST_KINDS],
        required=False,
        label="What kind the rows without figures are",
    )
    only_this_once = fields.BooleanField(required=False)

    def clean_columns(self) -> dict[str, dict[str, str]]:
        """Take what can be meant only."""
        said = self.cleaned_data["columns"] or {}
        meant: dict[str, dict[str, str]] = {}
        for name, one in said.items() if isinstance(said, dict) else [("", None)]:
            if not isinstance(one, dict) or set(one) - {"meaning", "unit"}:
                raise fields.ValidationError("Send an object of heading, and meaning and unit.")
            meaning, unit = one.get("meaning", ""), one.get("unit", "")
            if meaning and meaning not in layouts.MEANINGS:
                raise fields.ValidationError(
                    gettext("No column means %(meaning)s.") % {"meaning": str(meaning)[:40]}
                )
            if unit and unit not in layouts.UNITS:
                raise fields.ValidationError(
                    gettext("%(unit)s is no unit of a column.") % {"unit": str(unit)[:40]}
                )
            meant[" ".join(name.split()).casefold()] = {"meaning": meaning, "unit": unit}
        return meant


class _Readings(Resource):
    group = "Print-outs"
    refusals: ClassVar[tuple[type[Exception], ...]] = (
        services.UnableToAccept,
        services.UnableToUndo,
    )
    missing: ClassVar = (*queries.Missing, *register.Missing)

    def intake(self, intake_id: UUID) -> Any:
        """The print-out of the address."""
        return self.get_or_404(queries.get_intake, intake_id=intake_id)

    def understood(self, intake: Any) -> dict[str, Any]:
        """Say what was understood of a file."""
        return describe(intake, self.slug)


class SystemIntakes(_Readings):
    """A system's files."""

    parser_classes = (MultiPartParser, Raw)

    def _system(self, system_id: UUID) -> Any:
        return self.get_or_404(register.get_system, system_id=system_id)

    @operation(INTAKE, many=True)
    def get(self, request: Any, system_id: UUID) -> Any:
        """List a system's print-outs."""
        system = self._system(system_id)
        return self.page(queries.list_intakes(building=system.building).filter(system=system))

    @operation(UNDERSTOOD, Permission.MANAGE, status=201, file=True)
    def post(self, request: Any, system_id: UUID) -> Any:
        """Take a print-out in as a draft: multipart field `file`, or the bytes as the body.

        Nothing is written until it is accepted; the answer says what was understood.
        """
        system = self._system(system_id)
        name, data = _file(request)
        try:
            intake = services.take_in(
                building=system.building,
                system=system,
                filename=name,
                data=data,
                **self.now_and_member(),
            )
        except services.UnableToTakeIn as error:
            raise Unreadable(str(error)) from None
        return self.understood(intake)


class BuildingIntakes(_Readings):
    """A building's files."""

    @operation(INTAKE, many=True)
    def get(self, request: Any, building_id: UUID) -> Any:
        """List a building's print-outs."""
        building = self.get_or_404(register.get_building, building_id=building_id)
        return self.page(queries.list_intakes(building=building))


class WaitingIntakes(_Readings):
    """The files that wait."""

    @operation(INTAKE, many=True)
    def get(self, request: Any) -> Any:
        """List the firm's print-outs that wait to be accepted."""
        return self.page(queries.list_waiting(firm_id=self.firm_id))


class OneIntake(_Readings):
    """One file."""

    @operation(UNDERSTOOD)
    def get(self, request: Any, intake_id: UUID) -> Any:
        """Preview a print-out: what was understood of it and what accepting it would do."""
        return self.understood(self.intake(intake_id))


class IntakeRows(_Readings):
    """The rows of a file."""

    @operation(
        ROW,
        many=True,
        filters=(Filter("show", "Which rows.", tuple(queries.SHOWN), example="all"),),
    )
    def get(self, request: Any, intake_id: UUID) -> Any:
        """List the rows of a print-out, as printed and as understood."""
        rows = queries.list_rows(intake=self.intake(intake_id))
        return self.page(queries.narrow_rows(rows=rows, show=self.asked("show", "all")))


class OneIntakeRow(_Readings):
    """One row of a file."""

    @operation(ROW, Permission.MANAGE, takes=Said, example={"said": {"label": "Level 1, kitchen"}})
    def patch(self, request: Any, intake_id: UUID, row_id: UUID) -> Any:
        """Correct one row of a draft; what was printed stays beside it."""
        intake = self.intake(intake_id)
        try:
            row = queries.get_row(intake=intake, row_id=row_id)
        except queries.Missing:
            raise Http404 from None
        said = self.read(Said).cleaned_data["said"]
        if not isinstance(said, dict) or not all(isinstance(one, str) for one in said.values()):
            raise ValidationError({"said": ["Send an object of field and text."]})
        if more := sorted(set(said) - SAYABLE):
            raise ValidationError({"said": [f"Cannot be said of a row: {', '.join(more)[:80]}."]})
        return services.correct_row(intake=intake, row=row, said=said, **self.now_and_member())


#: What can be said of a row, as on the page.
SAYABLE = frozenset(
    {"address", "label", "setting", "measured", "drift", "now", "limit", "used", "marked_low"}
    | {"marked_high", "taken_on", "cleaned", "keep_label", "product", "leave_out"}
)


class IntakeMeanings(_Readings):
    """What a file's columns mean."""

    refusals: ClassVar = (*_Readings.refusals, services.UnableToTakeIn)

    @operation(
        UNDERSTOOD,
        Permission.MANAGE,
        takes=Meant,
        example={"columns": {"label": {"meaning": "label"}}, "only_this_once": True},
    )
    def post(self, request: Any, intake_id: UUID) -> Any:
        """Answer what is asked about a draft, and have it read again so.

        What is said is used for the system's next file too, unless it holds only this once.
        """
        intake = self.intake(intake_id)
        said = self.read(Meant).cleaned_data
        mapping: dict[str, Any] = dict(said["columns"])
        if said["date_order"]:
            mapping["date_order"] = said["date_order"]
        if said["rest_kind"]:
            mapping[layouts.REST_KIND] = said["rest_kind"]
        read_again = services.choose_meanings(
            intake=intake,
            mapping=mapping,
            only_this_once=said["only_this_once"],
            **self.now_and_member(),
        )
        return self.understood(read_again)


class IntakeAccepted(_Readings):
    """A file accepted."""

    @operation(
        UNDERSTOOD,
        Permission.MANAGE,
        takes=Accepting,
        example={"accept_as": "readings", "taken_on": "2026-11-20", "is_sure": True},
    )
    def post(self, request: Any, intake_id: UUID) -> Any:
        """Accept a print-out: its readings are written, due dates and forecasts are renewed."""
        intake = self.intake(intake_id)
        said = self.read(Accepting).cleaned_data
        is_test = said["accept_as"] == "test"
        accepted = services.accept(
            intake=intake,
            is_test=is_test,
            method=said["method"] if is_test else "",
            taken_on=said["taken_on"],
            good_rows_only=said["rows"] != "all",
            is_sure=said["is_sure"],
            **self.now_and_member(),
        )
        return self.understood(accepted)


class IntakeAside(_Readings):
    """A file put aside."""

    @operation(INTAKE, Permission.MANAGE)
    def post(self, request: Any, intake_id: UUID) -> Any:
        """Put a draft aside: nothing of it is written."""
        return services.put_aside(intake=self.intake(intake_id), **self.now_and_member())


class IntakeUndone(_Readings):
    """A file undone."""

    @operation(INTAKE, Permission.MANAGE, keys={"intake_id": "accepted_id"})
    def post(self, request: Any, intake_id: UUID) -> Any:
        """Undo an accepted print-out as a whole."""
        found = self.intake(intake_id)
        undone, _ = services.undo(intake=found, **self.now_and_member())
        return undone


class DeviceReadings(_Readings):
    """A detector's readings."""

    group = "Devices"

    @operation(READING, many=True)
    def get(self, request: Any, device_id: UUID) -> Any:
        """List a detector's readings that count."""
        device = self.get_or_404(register.get_device, device_id=device_id)
        return self.page(queries.list_readings(device=device))
