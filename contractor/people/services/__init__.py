"""Invite people, change and end seats; keep licences and the firm's own page."""

from contractor.people.services.errors import UnableToSeat
from contractor.people.services.firm import FirmFacts, change_profile, drop_logo, keep_logo
from contractor.people.services.licences import (
    LicenceFacts,
    add_licence,
    change_licence,
    end_licence,
)
from contractor.people.services.seats import (
    accept,
    address_of,
    cancel_invitation,
    change_role,
    invite,
    leave,
    list_held,
    read_token,
    set_up,
)

__all__ = [
    "FirmFacts",
    "LicenceFacts",
    "UnableToSeat",
    "accept",
    "add_licence",
    "address_of",
    "cancel_invitation",
    "change_licence",
    "change_profile",
    "change_role",
    "drop_logo",
    "end_licence",
    "invite",
    "keep_logo",
    "leave",
    "list_held",
    "read_token",
    "set_up",
]
