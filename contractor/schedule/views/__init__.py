"""Pages: the start page and a building's; what falls due and why; a building's five years."""

from contractor.schedule.views.start import building

__all__ = ["building"]
