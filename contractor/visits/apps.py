"""The visits area: visits, entries, review, sign-off."""

from django.apps import AppConfig


class VisitsConfig(AppConfig):
    """What was done on the spot."""

    name = "contractor.visits"

    def ready(self) -> None:
        """Hand over planned visits when a member leaves."""
        from contractor.tenancy import leaving
        from contractor.visits.services import handing

        leaving.register(
            "visits",
            leaving.Ending("planned visits handed over", handing.tell_planned, handing.hand_over),
        )
