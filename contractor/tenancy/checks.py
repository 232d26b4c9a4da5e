"""Make it impossible to forget a firm, a composite key or a scoped manager."""

from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.core import checks
from django.db import models

from contractor.tenancy.constraints import SameFirm


def _keys(model: type[models.Model]) -> list[models.ForeignKey[Any, Any]]:
    from contractor.tenancy.models import FirmModel

    return [
        field
        for field in model._meta.get_fields()
        if isinstance(field, models.ForeignKey)
        and isinstance(field.related_model, type)
        and issubclass(field.related_model, FirmModel)
    ]


@checks.register("tenancy")
def firm_models(app_configs: Any, **_: object) -> list[checks.CheckMessage]:
    """Check every firm model: composite keys, the unique (firm, id), the scoped base manager."""
    return list(_problems())


def _problems() -> Iterator[checks.CheckMessage]:
    from contractor.tenancy.models import FirmModel

    everyone = apps.get_models(include_auto_created=True)
    firm_models = [model for model in everyone if issubclass(model, FirmModel)]
    parents = {field.related_model for model in firm_models for field in _keys(model)}
    for model in everyone:
        if model._meta.auto_created and any(
            field.is_relation
            and isinstance(field.related_model, type)
            and issubclass(field.related_model, FirmModel)
            for field in model._meta.fields
        ):
            yield checks.Error(
                "A hidden many-to-many table has no firm. Give it a model of its own.",
                obj=model,
                id="tenancy.E001",
            )
    for model in firm_models:
        same = {c.field for c in model._meta.constraints if isinstance(c, SameFirm)}
        for field in _keys(model):
            if field.name not in same or field.db_constraint:  # type: ignore[attr-defined]
                yield checks.Error(
                    f'Add SameFirm("{field.name}") to Meta.constraints and db_constraint=False'
                    " to the field.",
                    obj=field,
                    id="tenancy.E002",
                )
        if model in parents and not any(
            getattr(constraint, "fields", None) == ("firm", "id")
            for constraint in model._meta.constraints
        ):
            yield checks.Error(
                "It has children: begin Meta.constraints with *FirmModel.Meta.constraints.",
                obj=model,
                id="tenancy.E003",
            )
        if model._meta.base_manager_name != "objects":
            yield checks.Error(
                "Related rows would be unscoped: write class Meta(FirmModel.Meta).",
                obj=model,
                id="tenancy.E004",
            )
