"""The owners area: the owner's own pages."""

from django.apps import AppConfig


class OwnersConfig(AppConfig):
    """What the owner sees."""

    name = "contractor.owners"
