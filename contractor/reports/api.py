"""Sealed records and their reports for programs."""

import json
from collections.abc import Sequence
from typing import Any, ClassVar
from uuid import UUID

from django import forms as fields
from django.core.exceptions import ObjectDoesNotExist
from rest_framework.exceptions import ValidationError
from rest_framework.renderers import JSONRenderer

from contractor.programs.resource import Refused, Resource, operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.reports import answers, kinds, queries, services
from contractor.tenancy import queries as tenancy
from contractor.tenancy.permissions import Permission
from contractor.visits import queries as visits

REPORT = Shape(
    "Report",
    id="id",
    record_id="id",
    kind="text",
    sha256="text",
    size="whole",
    pages="whole",
    made_at="instant",
)
LISTED = Shape(
    "Record",
    id="id",
    visit_id="id",
    building_id="id:visit.building_id",
    building="text:visit.building.name",
    revision="whole",
    last_revision="whole?",
    record_hash="text",
    chain_number="whole",
    sealed_at="instant",
    reports=[REPORT],
)
WHOLE = Shape(
    "WholeRecord", id="id", visit_id="id", revision="whole", record_hash="text", body="any"
)
JOB = Shape("Job", id="id", title="text", state="text", done="whole", total="whole", message="text")


BUNDLE = Shape(
    "Bundle",
    id="id",
    building_id="id",
    sha256="text",
    size="whole",
    records="whole",
    reports="whole",
    made_at="instant",
)
OUTLOOK = Shape(
    "PrintedOutlook",
    id="id",
    building_id="id",
    made_on="day",
    sha256="text",
    size="whole",
    pages="whole",
    made_at="instant",
)


class Kind(fields.Form):
    """Which report of a record."""

    kind = fields.CharField(max_length=20, initial=queries.VISIT)


class Pdf(JSONRenderer):
    """Let a program ask for a PDF by its media type; problems are JSON all the same."""

    media_type = "application/pdf"
    format = "pdf"


class Zip(JSONRenderer):
    """Let a program ask for an archive by its media type."""

    media_type = "application/zip"
    format = "zip"


class _Reports(Resource):
    group = "Reports"
    missing: ClassVar[tuple[type[Exception], ...]] = (*queries.Missing, *register.Missing)

    def building(self, building_id: UUID) -> Any:
        """The building of the address."""
        return self.get_or_404(register.get_building, building_id=building_id)

    def record(self, record_id: UUID) -> Any:
        """The sealed record of the address."""
        return self.get_or_404(visits.get_record, record_id=record_id)


class Records(_Reports):
    """The firm's sealed records."""

    @operation(LISTED, many=True)
    def get(self, request: Any) -> Any:
        """List sealed records, each with the reports that were made of it."""
        return self.page(queries.list_records(firm_id=self.firm_id))

    def dress(self, rows: list[Any]) -> Sequence[Any]:
        """Add the reports to each record."""
        made = queries.list_all_kinds(
            firm_id=self.firm_id, record_ids=[record.pk for record in rows]
        )
        for record in rows:
            record.reports = made.get(record.pk, [])
        return rows


class Record(_Reports):
    """One sealed record."""

    @operation(WHOLE)
    def get(self, request: Any, record_id: UUID) -> Any:
        """Show what was sealed, exactly as it was hashed."""
        found = self.record(record_id)
        names = ("id", "visit_id", "revision", "record_hash")
        return {name: getattr(found, name) for name in names} | {"body": json.loads(found.body)}


class Rendered(_Reports):
    """A report made."""

    @operation(JOB, Permission.SIGN_OFF, takes=Kind, status=202, example={"kind": "visit"})
    def post(self, request: Any, record_id: UUID) -> Any:
        """Have one kind of report rendered that is not there; asked for twice, it is made once."""
        found = self.record(record_id)
        kind = self.read(Kind).cleaned_data["kind"]
        offered = kinds.list_kinds(queries.read_body(record=found))
        if kind not in offered:
            raise ValidationError({"kind": [f"Of this record there are: {', '.join(offered)}."]})
        if kind == queries.VISIT:
            return services.queue_again(record=found, **self.now_and_member())
        return services.queue_kind(record=found, kind=kind, **self.now_and_member())


class Report(_Reports):
    """One report."""

    renderer_classes = (JSONRenderer, Pdf)

    @operation(None, media="application/pdf")
    def get(self, request: Any, report_id: UUID) -> Any:
        """Download a report's PDF."""
        found = self.get_or_404(queries.get_report, report_id=report_id)
        try:
            file = answers.answer_pdf(found)
        except answers.UnableToOpen as error:
            raise Refused(str(error)) from None
        return file


class Bundles(_Reports):
    """All that is known of a building, in one file."""

    @operation(BUNDLE, Permission.MANAGE, many=True)
    def get(self, request: Any, building_id: UUID) -> Any:
        """List the files that hold all that is known of a building."""
        return self.whole(queries.list_bundles(building=self.building(building_id)))

    @operation(JOB, Permission.MANAGE, status=202)
    def post(self, request: Any, building_id: UUID) -> Any:
        """Have all that is known of a building packed into one file."""
        return services.queue_bundle(building=self.building(building_id), **self.now_and_member())


class BundleFile(_Reports):
    """One of those files."""

    renderer_classes = (JSONRenderer, Zip)

    @operation(None, Permission.MANAGE, media="application/zip")
    def get(self, request: Any, building_id: UUID, bundle_id: UUID) -> Any:
        """Download one of those files."""
        building = self.building(building_id)
        try:
            found = queries.get_bundle(building=building, bundle_id=bundle_id)
            return answers.answer_bundle(found)
        except answers.UnableToOpen as error:
            raise Refused(str(error)) from None


class PrintedOutlooks(_Reports):
    """A building's printed outlooks."""

    @operation(OUTLOOK, many=True)
    def get(self, request: Any, building_id: UUID) -> Any:
        """List a building's printed outlooks."""
        return self.whole(queries.list_outlooks(building=self.building(building_id)))

    @operation(JOB, Permission.MANAGE, status=202)
    def post(self, request: Any, building_id: UUID) -> Any:
        """Have a building's outlook printed."""
        building, by = self.building(building_id), self.now_and_member()
        today = building.day_at(by["now"])
        return services.queue_outlook(building=building, today=today, **by)


class OutlookPdf(_Reports):
    """One printed outlook."""

    renderer_classes = (JSONRenderer, Pdf)

    @operation(None, media="application/pdf")
    def get(self, request: Any, outlook_id: UUID) -> Any:
        """Download a printed outlook."""
        found = self.get_or_404(queries.get_outlook, outlook_id=outlook_id)
        try:
            return answers.answer_outlook(found)
        except answers.UnableToOpen as error:
            raise Refused(str(error)) from None


class OneJob(_Reports):
    """A job in the background."""

    missing: ClassVar = (ObjectDoesNotExist,)

    @operation(JOB)
    def get(self, request: Any, job_id: UUID) -> Any:
        """Show how far a job is: done of total, and what came of it."""
        return self.get_or_404(tenancy.get_job, job_id=job_id)
