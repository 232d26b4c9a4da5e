"""Which tables a firm's export carries, in which columns, and which stay behind and why."""

from django.apps import apps
from django.db import connection, models
from django.db.migrations.recorder import MigrationRecorder

from contractor.tenancy.models import FirmModel

#: What an export leaves behind, and why.
LEFT_BEHIND = {
    "programs_token": "keys to one server; make new ones on the other",
    "programs_keptanswer": "what one server answered within the last day",
    "programs_hook": "signed with a secret of one server; add them anew on the other",
    "programs_delivery": "what one server told its hooks",
    "tenancy_job": "work under way on one server; what it makes is carried",
    "custody_export": "which export files lie on one server; the files are not carried either",
}
#: What is carried of a person who can sign in: never the password.
PERSON = ("id", "email", "name", "is_active", "joined_at")


def list_carried() -> list[type[models.Model]]:
    """List the models that an export carries, by their tables' names."""
    found = [
        model
        for model in apps.get_models(include_auto_created=True)
        if issubclass(model, FirmModel) and model._meta.db_table not in LEFT_BEHIND
    ]
    return sorted(found, key=lambda model: model._meta.db_table)


def list_columns(model: type[models.Model]) -> list[str]:
    """List the columns that are written; what the database computes itself is left out."""
    return [
        field.column
        for field in model._meta.concrete_fields
        if field.column and not field.generated
    ]


def list_people() -> list[tuple[str, str]]:
    """List where people who can sign in are named: table and column."""
    return [
        (model._meta.db_table, field.column)
        for model in list_carried()
        for field in model._meta.concrete_fields
        if isinstance(field, models.ForeignKey)
        and isinstance(field.related_model, type)
        and field.related_model._meta.db_table == "tenancy_user"
    ]


def describe_schema() -> dict[str, str]:
    """Name the last migration of each area: two servers with the same have the same tables."""
    areas = {config.label for config in apps.get_app_configs() if "contractor." in config.name}
    found: dict[str, str] = {}
    for area, name in sorted(MigrationRecorder(connection).applied_migrations()):
        if area in areas:
            found[area] = max(name, found.get(area, ""))
    return found
