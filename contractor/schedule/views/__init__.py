"""Pages: start, a customer's, a building's; what falls due and why; a building's five years."""

from contractor.schedule.views.customer import customer
from contractor.schedule.views.start import building

__all__ = ["building", "customer"]
