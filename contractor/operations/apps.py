"""Operations: backups and the way back, limits, health."""

from django.apps import AppConfig


class OperationsConfig(AppConfig):
    """What whoever runs the server needs."""

    name = "contractor.operations"

    def ready(self) -> None:
        """Hear of sign-ins that fail."""
        from allauth.mfa.signals import authentication_failed
        from django.contrib.auth.signals import user_login_failed

        from contractor.operations import knocking

        user_login_failed.connect(knocking.note_password, dispatch_uid="operations.password")
        authentication_failed.connect(knocking.note_factor, dispatch_uid="operations.factor")
