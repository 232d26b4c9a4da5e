"""People for programs: seats, invitations, licences, and the firm's own page."""

from types import SimpleNamespace
from typing import Any
from uuid import UUID

from django.utils import timezone

from contractor.people import forms, queries, services
from contractor.programs.examples import key
from contractor.programs.resource import Resource, operation
from contractor.programs.shapes import Shape
from contractor.tenancy import queries as tenancy
from contractor.tenancy.permissions import Permission

PERSON = Shape("Person", id="id", name="text", role="text", email="text:user.email", left_on="day?")
LICENCE = Shape(
    "Licence",
    id="id",
    member_id="id?",
    kind="text",
    number="text",
    jurisdiction="text",
    ends_on="day?",
    ended_on="day?",
)
INVITATION = Shape(
    "Invitation",
    id="id",
    email="text",
    name="text",
    role="text",
    invited_at="instant",
    ends_at="instant",
    used_at="instant?",
    cancelled_at="instant?",
)
HELD = Shape("HeldBySeat", kinds=[Shape("HeldKind", words="text", held="words")])
ENDED = Shape("SeatEnded", member=PERSON, ended="any")
PROFILE = Shape(
    "FirmProfile",
    name="text",
    address="text",
    telephone="text",
    email="text",
    licence="text",
    paper="text",
    time_zone="text",
    obscuration_unit="text",
    language="text",
    needs_second_factor="flag",
)


class OfPeople(Resource):
    """What the addresses of people share."""

    group = "People"
    refusals = (services.UnableToSeat,)
    missing = queries.Missing

    def person(self, member_id: UUID) -> Any:
        """The member of the address."""
        return self.get_or_404(queries.get_member, member_id=member_id)

    def licence(self, licence_id: UUID) -> Any:
        """The licence of the address."""
        return self.get_or_404(queries.get_licence, licence_id=licence_id)


class Person(OfPeople):
    """One member."""

    @operation(PERSON)
    def get(self, request: Any, member_id: UUID) -> Any:
        """Show a member."""
        return self.person(member_id)

    @operation(
        PERSON,
        Permission.ADMINISTER,
        takes=forms.Role,
        partly=True,
        example={"role": "office"},
        keys={"member_id": "colleague_id"},
    )
    def patch(self, request: Any, member_id: UUID) -> Any:
        """Change what a member may do; it holds from their next call on."""
        of = self.person(member_id)
        said = self.read(forms.Role, row=of).cleaned_data
        services.change_role(of=of, **said, **self.now_and_member())
        return self.person(member_id)


class SeatEnd(OfPeople):
    """The end of a seat."""

    @operation(HELD, Permission.ADMINISTER, keys={"member_id": "colleague_id"})
    def get(self, request: Any, member_id: UUID) -> Any:
        """List all that would end with a seat."""
        held = services.list_held(of=self.person(member_id))
        return {"kinds": [{"words": words, "held": found} for words, found in held]}

    @operation(
        ENDED,
        Permission.ADMINISTER,
        takes=forms.Leave,
        example={"on": "2026-11-25", "heir": key("member_id")},
        keys={"member_id": "colleague_id"},
    )
    def post(self, request: Any, member_id: UUID) -> Any:
        """End a seat and all that hangs on it, in one action."""
        of = self.person(member_id)
        people = {
            str(one.pk): one
            for one in tenancy.list_members(firm_id=self.firm_id)
            if one.pk != of.pk
        }
        said = self.read(
            forms.Leave, people=[(pk, one.name) for pk, one in people.items()]
        ).cleaned_data
        ended = services.leave(
            of=of, heir=people.get(said["heir"]), on=said["on"], **self.now_and_member()
        )
        return {"member": self.person(member_id), "ended": ended}


class Invitations(OfPeople):
    """Seats that were offered."""

    @operation(INVITATION, Permission.ADMINISTER, many=True)
    def get(self, request: Any) -> Any:
        """List the seats that were offered."""
        return self.page(queries.list_invitations(firm_id=self.firm_id))

    @operation(
        INVITATION,
        Permission.ADMINISTER,
        takes=forms.Invite,
        status=201,
        example={"name": "R. Ibbet", "email": "r.ibbet@example.org", "role": "technician"},
    )
    def post(self, request: Any) -> Any:
        """Offer a seat by mail; its link opens one seat, once, within seven days."""
        said = self.read(forms.Invite).cleaned_data
        return services.invite(firm_id=self.firm_id, **said, **self.now_and_member())


class InvitationCancelled(OfPeople):
    """An offer taken back."""

    @operation(INVITATION, Permission.ADMINISTER)
    def post(self, request: Any, invitation_id: UUID) -> Any:
        """Take an offer back."""
        found = self.get_or_404(queries.get_invitation, invitation_id=invitation_id)
        services.cancel_invitation(invitation=found, **self.now_and_member())
        return queries.get_invitation(firm_id=self.firm_id, invitation_id=invitation_id)


class PersonLicences(OfPeople):
    """A member's licences."""

    @operation(LICENCE, many=True)
    def get(self, request: Any, member_id: UUID) -> Any:
        """List a member's licences."""
        of = self.person(member_id)
        return self.whole(list(queries.list_licences(firm_id=self.firm_id, member=of)))

    @operation(
        LICENCE,
        Permission.MANAGE,
        takes=forms.LicenceForm,
        status=201,
        example={"kind": "fire alarm technician", "number": "TX-9", "ends_on": "2028-03-31"},
    )
    def post(self, request: Any, member_id: UUID) -> Any:
        """Add a licence of a member."""
        return _add(self, self.person(member_id))


class FirmLicences(OfPeople):
    """The firm's own licences."""

    @operation(LICENCE, many=True)
    def get(self, request: Any) -> Any:
        """List the firm's own licences."""
        return self.whole(list(queries.list_licences(firm_id=self.firm_id)))

    @operation(
        LICENCE,
        Permission.MANAGE,
        takes=forms.LicenceForm,
        status=201,
        example={"kind": "fire alarm contractor", "number": "ACR-2201"},
    )
    def post(self, request: Any) -> Any:
        """Add a licence of the firm's own."""
        return _add(self, None)


def _add(resource: OfPeople, of: Any) -> Any:
    facts = resource.read(forms.LicenceForm).facts()
    return services.add_licence(
        firm_id=resource.firm_id, of=of, facts=facts, **resource.now_and_member()
    )


class Licence(OfPeople):
    """One licence."""

    @operation(
        LICENCE,
        Permission.MANAGE,
        takes=forms.LicenceForm,
        partly=True,
        example={"ends_on": "2029-03-31"},
    )
    def patch(self, request: Any, licence_id: UUID) -> Any:
        """Change a licence, or enter its renewal."""
        found = self.licence(licence_id)
        facts = self.read(forms.LicenceForm, row=found).facts()
        services.change_licence(licence=found, facts=facts, **self.now_and_member())
        return self.licence(licence_id)


class LicenceEnded(OfPeople):
    """A licence that holds no more."""

    @operation(LICENCE, Permission.MANAGE)
    def post(self, request: Any, licence_id: UUID) -> Any:
        """Say that a licence holds no more, from today on."""
        found = self.licence(licence_id)
        today = timezone.localdate()
        services.end_licence(licence=found, on=today, **self.now_and_member())
        return self.licence(licence_id)


class Profile(OfPeople):
    """The firm's own page."""

    @operation(PROFILE)
    def get(self, request: Any) -> Any:
        """Show what the firm prints on its papers, and how it works."""
        return request.profile

    @operation(
        PROFILE,
        Permission.ADMINISTER,
        takes=forms.Profile,
        partly=True,
        example={"telephone": "555 0101"},
    )
    def patch(self, request: Any) -> Any:
        """Change the firm's own page; papers sealed before keep what stood on them."""
        row = SimpleNamespace(
            **{name: getattr(request.profile, name) for name in forms.Profile.base_fields}
        )
        services.change_profile(
            profile=request.profile,
            facts=self.read(forms.Profile, row=row).facts(),
            **self.now_and_member(),
        )
        return tenancy.get_profile(firm_id=self.firm_id)
