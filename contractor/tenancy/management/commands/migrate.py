"""Migrate as the owner: the application's own role may not change tables."""

from typing import Any

from django.core.management.commands import migrate


class Command(migrate.Command):
    """Django's migrate, with the owner's connection as the default."""

    def add_arguments(self, parser: Any) -> None:
        """Default to the owner."""
        super().add_arguments(parser)
        parser.set_defaults(database="owner")
