"""The doors for programs: a file for a system, with the system's key or as a signed-in member."""

from typing import Any
from uuid import UUID

from django.conf import settings
from django.utils import timezone
from rest_framework.exceptions import APIException, AuthenticationFailed, Throttled
from rest_framework.parsers import BaseParser, MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from contractor.readings import limits, queries, services
from contractor.register import queries as register
from contractor.tenancy import queries as tenancy
from contractor.tenancy.scope import scope
from contractor.web.api import FirmApi
from contractor.web.door import or_404
from contractor.web.limits import address_of

_LATEST = 20


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


def describe(intake: Any, slug: str) -> dict[str, Any]:
    """Say what was understood of a file, and where people look at it."""
    outcomes = queries.list_outcomes(intake=intake)
    return {
        "id": str(intake.pk),
        "page": f"{settings.BASE_URL}/f/{slug}/print-outs/{intake.pk}/",
        "system": intake.system.name,
        "filename": intake.filename,
        "sha256": intake.sha256,
        "kind": intake.kind,
        "state": intake.state,
        "waits_because": intake.waits_because,
        "printed_on": intake.printed_on.isoformat() if intake.printed_on else None,
        "rows": {key: outcomes.count(key) for key in ("new", "changed", "same", "problem")},
        "columns": [
            {key: column[key] for key in ("header", "meaning", "unit", "confidence")}
            for column in intake.columns
        ],
        "asked": [p["sentence"] for p in intake.problems if p["kind"] == "asked"],
        "problems": [p["sentence"] for p in intake.problems if p["kind"] != "asked"],
    }


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


class SystemIntakes(FirmApi):
    """A system's files, for a signed-in member."""

    parser_classes = (MultiPartParser, Raw)
    http_method_names = ["get", "post"]

    def get(self, request: Any, system_id: UUID) -> Response:
        """List the latest files of a system."""
        system = self._system(request, system_id)
        latest = queries.list_intakes(building=system.building).filter(system=system)[:_LATEST]
        return Response(
            [
                {
                    "id": str(intake.pk),
                    "page": f"{settings.BASE_URL}/f/{self.slug}/print-outs/{intake.pk}/",
                    "filename": intake.filename,
                    "kind": intake.kind,
                    "state": intake.state,
                    "received_at": intake.received_at.isoformat(),
                }
                for intake in latest
            ]
        )

    def post(self, request: Any, system_id: UUID) -> Response:
        """Take a file in as a draft."""
        system = self._system(request, system_id)
        name, data = _file(request)
        try:
            intake = services.take_in(
                building=system.building,
                system=system,
                filename=name,
                data=data,
                member=request.member,
                now=timezone.now(),
            )
        except services.UnableToTakeIn as error:
            raise Unreadable(str(error)) from None
        return Response(describe(intake, self.slug), status=201)

    @staticmethod
    def _system(request: Any, system_id: UUID) -> Any:
        return or_404(
            register.get_system, register.Missing, firm_id=request.firm.pk, system_id=system_id
        )
