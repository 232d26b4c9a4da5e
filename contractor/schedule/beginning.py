"""The first steps of a new firm: from nothing on file to a first visit planned."""

from dataclasses import dataclass
from uuid import UUID

from contractor.register.models import Building, Device
from contractor.tenancy.models import FirmProfile, Member
from contractor.visits.models import Visit


@dataclass(frozen=True)
class Step:
    """One step: what it is, why, the one button that takes it, and whether it is taken."""

    name: str
    about: str
    deed: str
    page: str
    is_done: bool
    building_id: UUID | None = None
    may_wait: bool = False


def list_steps(*, firm_id: UUID, profile: FirmProfile) -> list[Step]:
    """List the first steps; none once a visit was ever planned."""
    if Visit.objects.filter(firm_id=firm_id).exists():
        return []
    building = Building.objects.filter(firm_id=firm_id).order_by("name", "pk").first()
    device = Device.objects.filter(firm_id=firm_id).order_by("pk").first()
    place = device.building_id if device else building and building.pk
    return [
        Step(
            "A building, with the customer it belongs to",
            "The edition adopted there decides what is asked of it, and when.",
            "Add a building",
            "register:add_building",
            building is not None,
        ),
        Step(
            "Its devices",
            "Take in a list or a print-out as the control unit wrote it; its addresses become"
            " the building’s devices. You see every row first.",
            "Take in a list",
            "readings:take_in",
            device is not None,
            place,
        ),
        Step(
            "A first visit",
            "Choose the day and the tasks; those that go find it on their tablet.",
            "Plan a visit",
            "visits:plan",
            False,
            place,
        ),
        Step(
            "Who works here",
            "Office and technicians are invited by mail and choose their own passwords.",
            "Invite somebody",
            "people:invite",
            Member.objects.filter(firm_id=firm_id).count() > 1,
            may_wait=True,
        ),
        Step(
            "Your letterhead",
            "Address, telephone, licence and logo, as they will stand on reports.",
            "Open the firm’s page",
            "people:firm",
            bool(profile.address),
            may_wait=True,
        ),
    ]
