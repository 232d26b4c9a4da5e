"""Operations: backups and the way back, limits, health."""

from django.apps import AppConfig


class OperationsConfig(AppConfig):
    """What whoever runs the server needs."""

    name = "contractor.operations"
