"""SameFirm: the composite foreign key (firm, id) that keeps a child with its parent's firm."""

from typing import Any

from django.core.exceptions import ValidationError
from django.db.backends.ddl_references import Columns, Statement, Table
from django.db.models import BaseConstraint
from django.db.utils import DEFAULT_DB_ALIAS


class SameFirm(BaseConstraint):
    """Tie (firm, field) to the parent's (firm, id), instead of the field's own key.

    The field itself is declared with db_constraint=False: the composite key replaces Django's
    and costs nothing more. The error comes at the statement, not at commit.
    """

    default_violation_error_message = "This belongs to another firm."

    def __init__(self, field: str, *, name: str = "", **kwargs: Any) -> None:
        self.field = field
        super().__init__(name=name or f"%(app_label)s_%(class)s_{field}_firm", **kwargs)

    def create_sql(self, model: Any, schema_editor: Any) -> Any:
        """Add the key at the migration's end: the parent's unique key may come later in it."""
        field, firm = model._meta.get_field(self.field), model._meta.get_field("firm").column
        quote, parent = schema_editor.quote_name, field.remote_field.model._meta
        schema_editor.deferred_sql.append(
            Statement(
                "ALTER TABLE %(table)s ADD CONSTRAINT %(name)s FOREIGN KEY (%(columns)s)"
                " REFERENCES %(to_table)s (%(to_columns)s) DEFERRABLE INITIALLY IMMEDIATE",
                table=Table(model._meta.db_table, quote),
                name=quote(self.name),
                columns=Columns(model._meta.db_table, [firm, field.column], quote),
                to_table=Table(parent.db_table, quote),
                to_columns=Columns(parent.db_table, [firm, parent.pk.column], quote),
            )
        )
        return None

    constraint_sql = create_sql

    def remove_sql(self, model: Any, schema_editor: Any) -> Any:
        """Drop the key."""
        return schema_editor._delete_fk_sql(model, self.name)

    def validate(
        self,
        model: Any,
        instance: Any,
        exclude: Any = None,
        using: str = DEFAULT_DB_ALIAS,
    ) -> None:
        """Refuse a parent of another firm before the database does."""
        if exclude and {"firm", self.field} & set(exclude):
            return
        parent = getattr(instance, self.field, None)
        if parent is not None and parent.firm_id != instance.firm_id:
            raise ValidationError({self.field: self.get_violation_error_message()})

    def deconstruct(self) -> tuple[str, tuple[str, ...], dict[str, Any]]:
        """Answer how a migration writes it down."""
        path, _, kwargs = super().deconstruct()
        return path, (self.field,), kwargs

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, SameFirm):
            return NotImplemented
        return (self.field, self.name) == (other.field, other.name)

    def __hash__(self) -> int:
        return hash((self.field, self.name))
