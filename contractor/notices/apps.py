"""The notices area: mails owed to people, each about one event, each sent once."""

from django.apps import AppConfig


class NoticesConfig(AppConfig):
    """Who is told what."""

    name = "contractor.notices"
