"""The invented people of one firm."""

from dataclasses import dataclass, field

from contractor.owners.models import OwnerSeat
from contractor.tenancy.models import Firm, Member


@dataclass
class Cast:
    """One firm's invented people, as rows."""

    firm: Firm
    members: dict[str, Member] = field(default_factory=dict)
    seat: OwnerSeat | None = None

    def who(self, role: str) -> Member:
        """Give the first member of a role."""
        return next(member for member in self.members.values() if member.role == role)
