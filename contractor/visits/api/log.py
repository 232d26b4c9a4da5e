"""What event logs say, for programs: lines to be decided, and evidence for a visit's tests."""

from typing import Any
from uuid import UUID

from django import forms as fields

from contractor.alarms.queries import CAUSES
from contractor.programs.examples import key
from contractor.programs.resource import Filter, now, operation
from contractor.programs.shapes import Shape
from contractor.readings import queries as readings
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.visits.api.shared import ENTRIES, OneVisit
from contractor.visits.services import witnessing

LINE = Shape(
    "LogLine",
    id="id",
    building_id="id",
    system_id="id",
    device_id="id?",
    at="instant",
    event="text",
    address="text",
    text="text",
    state="text",
    led_to="id?",
)
EVIDENCE = Shape(
    "Evidence",
    found=[Shape("EvidenceLine", line=LINE, device_id="id:place.device.id")],
    without_line=[Shape("WithoutLine", device_id="id:device.id", address="text:device.address")],
    without_place=[LINE],
)


class AsAlarm(fields.Form):
    """What a line of a log was: an unwanted alarm, and its cause."""

    cause = fields.ChoiceField(choices=CAUSES, label="What set it off")
    by_detector = fields.BooleanField(required=False, label="A detector did")
    circumstances = fields.CharField(required=False, max_length=2000)


class Confirm(fields.Form):
    """Which lines show what somebody saw act."""

    lines = fields.MultipleChoiceField(label="Keys of lines")
    why = fields.CharField(required=False, max_length=200)

    def __init__(self, *args: Any, found: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lines"].choices = found  # type: ignore[attr-defined]


class OfLogs(OneVisit):
    """What the addresses of logs share."""

    group = "Event logs"
    refusals = (*witnessing.UnableToRecord, *witnessing.UnableToWitness)
    missing = (*OneVisit.missing, *readings.Missing)


class LogLines(OfLogs):
    """A building's lines that nobody has decided."""

    @operation(
        LINE,
        Permission.RECORD_TESTS,
        many=True,
        filters=(Filter("event", "Only one kind of signal, such as alarm.", example="alarm"),),
    )
    def get(self, request: Any, building_id: UUID) -> Any:
        """List the lines of a building's event logs that nobody has decided."""
        building = self.get_or_404(register.get_building, building_id=building_id)
        found = readings.list_open_lines(building=building)
        if event := self.asked("event"):
            found = found.filter(event=event)
        return self.page(found)


class LineAsAlarm(OfLogs):
    """A line written down as an unwanted alarm."""

    @operation(
        LINE,
        Permission.RECORD_TESTS,
        takes=AsAlarm,
        example={"cause": "nuisance", "by_detector": True, "circumstances": "Toast, level 1."},
    )
    def post(self, request: Any, line_id: UUID) -> Any:
        """Write an alarm of a log down as unwanted, with its cause."""
        line = self.get_or_404(readings.get_line, line_id=line_id)
        said = self.read(AsAlarm).cleaned_data
        return witnessing.record_as_alarm(
            line=line, judged_by=self.request.member.name, **said, **self.now_and_member()
        )


class LineAside(OfLogs):
    """A line put aside."""

    @operation(LINE, Permission.RECORD_TESTS)
    def post(self, request: Any, line_id: UUID) -> Any:
        """Say that a line of a log is of no account; it stays on record."""
        line = self.get_or_404(readings.get_line, line_id=line_id)
        return witnessing.put_aside(line=line, **self.now_and_member())


class VisitEvidence(OfLogs):
    """What logs say of a visit's tests."""

    @operation(EVIDENCE, Permission.RECORD_TESTS)
    def get(self, request: Any, visit_id: UUID) -> Any:
        """Show which lines of logs may be evidence on a visit, and what stays over."""
        return witnessing.propose(visit=self.visit(visit_id), now=now())

    @operation(
        ENTRIES,
        Permission.RECORD_TESTS,
        takes=Confirm,
        status=201,
        example={"lines": [key("line_id")], "why": "Seen at the panel."},
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Confirm lines, each for the one device that it names: all of them, or none."""
        visit = self.visit(visit_id)
        found = {
            str(one.line.pk): one.line for one in witnessing.propose(visit=visit, now=now()).found
        }
        said = self.read(Confirm, found=[(pk, one.text) for pk, one in found.items()]).cleaned_data
        made = witnessing.confirm_all(
            visit=visit,
            lines=[found[one] for one in said["lines"]],
            why=said["why"],
            **self.now_and_member(),
        )
        return {"entries": made}
