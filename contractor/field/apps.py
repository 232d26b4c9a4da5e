"""The field area: the technician's tablet, with and without signal."""

from django.apps import AppConfig


class FieldConfig(AppConfig):
    """Packs, tablets, and what they send."""

    name = "contractor.field"

    def ready(self) -> None:
        """Have sign-off ask what the tablets still hold; revoke a leaver's tablets."""
        from contractor.field import queries
        from contractor.field.services import parting
        from contractor.tenancy import leaving
        from contractor.visits import barriers

        barriers.register("field", queries.list_barriers)
        leaving.register(
            "tablets", leaving.Ending("tablets revoked", parting.tell_tablets, parting.revoke_own)
        )
