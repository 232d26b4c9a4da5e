"""Tenancy: firms, their members, the row wall and the audit trail."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class TenancyConfig(AppConfig):
    """Build the wall after each migrate, and check firm models at each start."""

    name = "contractor.tenancy"

    def ready(self) -> None:
        from contractor.tenancy import checks, wall  # noqa: F401

        post_migrate.connect(wall.build, sender=self)
