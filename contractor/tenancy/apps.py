"""Tenancy: firms, their members, the row wall and the audit trail."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class TenancyConfig(AppConfig):
    """Build the wall after each migrate, and check firm models at each start."""

    name = "contractor.tenancy"

    def ready(self) -> None:
        from contractor.tenancy import checks, wall  # noqa: F401

        post_migrate.connect(wall.build, sender=self)

        from contractor.tenancy import leaving, signed_in

        leaving.register(
            "sign-ins",
            leaving.Ending(
                words="sign-ins ended",
                tell=lambda of: [
                    f"{one.ip}, since {one.created_at:%-d %b %Y}"
                    for one in signed_in.list_sessions(user_id=of.user_id)
                ],
                end=lambda what: signed_in.end_sessions(user_id=what.member.user_id),
            ),
        )
