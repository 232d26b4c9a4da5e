"""Planning for programs: hours, whom to tell before work, calendars given away."""

from typing import Any
from uuid import UUID

from django import forms as fields
from django.conf import settings
from django.urls import reverse

from contractor.planning import forms, queries, services
from contractor.programs.examples import key
from contractor.programs.resource import Resource, now, operation
from contractor.programs.shapes import Shape
from contractor.register import queries as register
from contractor.tenancy.permissions import Permission
from contractor.visits import queries as visits

HOURS = Shape(
    "VisitHours",
    visit_id="id",
    starts_at="text?",
    hours="decimal?",
    test_begins_at="text?",
    test_ends_at="text?",
)
PLACE = Shape(
    "BuildingPlace",
    building_id="id",
    latitude="number?",
    longitude="number?",
    opens_at="text?",
    closes_at="text?",
)
TELLING = Shape(
    "Telling",
    id="id",
    building_id="id",
    part="text",
    name="text",
    way="text",
    to="text",
    days_before="whole",
    ended_at="instant?",
)
TOLD = Shape(
    "Told",
    id="id",
    visit_id="id",
    telling_id="id",
    of_day="day",
    way="text",
    spoken_with="text",
    at="instant",
)
FEED = Shape(
    "Calendar",
    id="id",
    kind="text",
    name="text",
    member_id="id?",
    building_id="id?",
    made_at="instant",
    revoked_at="instant?",
)
GIVEN = Shape("CalendarGiven", calendar=FEED, address="text")


class Call(fields.Form):
    """Who was told of a visit by telephone, and with whom one spoke."""

    telling_id = fields.UUIDField(label="Who was told")
    spoken_with = fields.CharField(max_length=160)


class OfPlanning(Resource):
    """What the addresses of planning share."""

    group = "Planning"
    refusals = (services.UnableToLayOut,)
    missing = (*queries.Missing, *register.Missing, *visits.Missing)

    def visit(self, visit_id: UUID) -> Any:
        """The visit of the address."""
        return self.get_or_404(visits.get_visit, visit_id=visit_id)

    def building(self, building_id: UUID) -> Any:
        """The building of the address."""
        return self.get_or_404(register.get_building, building_id=building_id)


class VisitHours(OfPlanning):
    """A visit's hours."""

    @operation(HOURS)
    def get(self, request: Any, visit_id: UUID) -> Any:
        """Show a visit's hours, by the building's clock."""
        visit = self.visit(visit_id)
        return queries.get_time(visit=visit) or {"visit_id": visit.pk}

    @operation(
        HOURS,
        Permission.MANAGE,
        takes=forms.Times,
        example={"starts_at": "08:00", "hours": "6.5"},
        keys={"visit_id": "planned_id"},
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Set a visit's hours; what is left out holds no hour."""
        visit = self.visit(visit_id)
        said = self.read(forms.Times).cleaned_data
        return services.set_time(visit=visit, **said, **self.now_and_member())


class VisitTold(OfPlanning):
    """Who was told of a visit."""

    @operation(TOLD, many=True)
    def get(self, request: Any, visit_id: UUID) -> Any:
        """List who was told of a visit, when and how."""
        return self.page(queries.list_told(visit=self.visit(visit_id)))

    @operation(
        TOLD,
        Permission.MANAGE,
        takes=Call,
        status=201,
        example={"telling_id": key("telling_id"), "spoken_with": "operator 12"},
        keys={"visit_id": "planned_id"},
    )
    def post(self, request: Any, visit_id: UUID) -> Any:
        """Write down that somebody was told of a visit by telephone."""
        visit = self.visit(visit_id)
        said = self.read(Call).cleaned_data
        telling = self.named("telling_id", queries.get_telling, telling_id=said["telling_id"])
        return services.log_told(
            visit=visit,
            telling=telling,
            way="telephone",
            spoken_with=said["spoken_with"],
            at=now(),
            member=self.request.member,
        )


class BuildingPlace(OfPlanning):
    """Where a building lies."""

    @operation(PLACE)
    def get(self, request: Any, building_id: UUID) -> Any:
        """Show where a building lies, and when it is open."""
        building = self.building(building_id)
        return queries.find_place(building=building) or {"building_id": building.pk}

    @operation(
        PLACE,
        Permission.MANAGE,
        takes=forms.PlaceForm,
        example={"latitude": 41.2, "longitude": -81.5, "opens_at": "07:00", "closes_at": "18:00"},
    )
    def post(self, request: Any, building_id: UUID) -> Any:
        """Set where a building lies and when it is open; what is left out is not known."""
        building = self.building(building_id)
        said = self.read(forms.PlaceForm).cleaned_data
        return services.set_place(building=building, **said, **self.now_and_member())


class Tellings(OfPlanning):
    """Who is told before work."""

    @operation(TELLING, many=True)
    def get(self, request: Any, building_id: UUID) -> Any:
        """List who is told before work in a building."""
        return self.page(queries.list_tellings(building=self.building(building_id)))

    @operation(
        TELLING,
        Permission.MANAGE,
        takes=forms.NewTelling,
        status=201,
        example={"part": "station", "name": "Station 7", "way": "telephone", "to": "555 0107"},
    )
    def post(self, request: Any, building_id: UUID) -> Any:
        """Add somebody who is told before work in a building."""
        building = self.building(building_id)
        said = self.read(forms.NewTelling).cleaned_data
        return services.add_telling(building=building, **said, **self.now_and_member())


class TellingEnded(OfPlanning):
    """Somebody told no more."""

    @operation(TELLING, Permission.MANAGE)
    def post(self, request: Any, telling_id: UUID) -> Any:
        """Tell somebody no more."""
        found = self.get_or_404(queries.get_telling, telling_id=telling_id)
        services.end_telling(telling=found, **self.now_and_member())
        found.refresh_from_db()
        return found


class Calendars(OfPlanning):
    """Calendars given away."""

    @operation(FEED, Permission.MANAGE, many=True)
    def get(self, request: Any) -> Any:
        """List the calendars that were given away."""
        return self.page(queries.list_feeds(firm_id=self.firm_id))

    @operation(
        GIVEN,
        Permission.MANAGE,
        takes=forms.NewFeed,
        status=201,
        shown_once="address",
        example={"kind": "building", "building": key("building_id")},
    )
    def post(self, request: Any) -> Any:
        """Give a calendar away; its address is answered this once."""
        buildings = {str(one.pk): one for one in register.list_buildings(firm_id=self.firm_id)}
        people = queries.list_technicians(firm_id=self.firm_id)
        said = self.read(
            forms.NewFeed,
            technicians=[(str(one.pk), one.name) for one in people],
            buildings=[(pk, one.name) for pk, one in buildings.items()],
        ).cleaned_data
        feed, secret = services.give_feed(
            firm_id=self.firm_id,
            kind=said["kind"],
            member_id=UUID(said["technician"]) if said["technician"] else None,
            building=buildings.get(said["building"]),
            **self.now_and_member(),
        )
        path = reverse("calendar_feed", kwargs={"firm": self.slug, "secret": secret})
        return {"calendar": feed, "address": settings.BASE_URL + path}


class CalendarRevoked(OfPlanning):
    """A calendar revoked."""

    @operation(FEED, Permission.MANAGE)
    def post(self, request: Any, feed_id: UUID) -> Any:
        """Let a calendar answer no more."""
        found = self.get_or_404(queries.get_feed, feed_id=feed_id)
        services.revoke_feed(feed=found, **self.now_and_member())
        found.refresh_from_db()
        return found
