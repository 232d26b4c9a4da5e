"""The programs area: tokens, the API's manners, hooks."""

from django.apps import AppConfig


class ProgramsConfig(AppConfig):
    """What other programs come with, and what they are told."""

    name = "contractor.programs"

    def ready(self) -> None:
        """Listen to the audit trail: what is written there is told to hooks."""
        from contractor.programs import services, telling
        from contractor.tenancy import leaving

        telling.listen()
        leaving.register(
            "tokens", leaving.Ending("tokens revoked", services.tell_tokens, services.revoke_own)
        )
