"""The notices area: mails owed to people, each about one event, each sent once."""

from django.apps import AppConfig


class NoticesConfig(AppConfig):
    """Who is told what."""

    name = "contractor.notices"

    def ready(self) -> None:
        """Be told of mails that came back."""
        from contractor.notices import bouncing
        from contractor.readings import returned

        returned.register(bouncing.take)
