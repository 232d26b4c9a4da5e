"""Say once what a thing looks like to programs: how it is written, and its schema."""

from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from math import isfinite
from typing import Any
from uuid import UUID

#: What a field may be, and how the schema says so.
TYPES: dict[str, dict[str, Any]] = {
    "id": {"type": "string", "format": "uuid"},
    "text": {"type": "string"},
    "day": {"type": "string", "format": "date"},
    "instant": {"type": "string", "format": "date-time"},
    "whole": {"type": "integer"},
    "number": {"type": "number"},
    "decimal": {"type": "string", "pattern": r"^-?\d+(\.\d+)?$"},
    "flag": {"type": "boolean"},
    "words": {"type": "array", "items": {"type": "string"}},
    "any": {},
}
SHAPES: dict[str, "Shape"] = {}


def plain(value: Any) -> Any:
    """Give a value as JSON can hold it."""
    if isinstance(value, datetime):  # in UTC, whoever's clock the page keeps
        return (value.astimezone(UTC) if value.tzinfo else value).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, Decimal):
        return f"{value:f}"
    if isinstance(value, float):
        return value if isfinite(value) else None
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(one) for one in value]
    if value is None or isinstance(value, bool | int):
        return value
    return str(value)


def _reader(source: str) -> Callable[[Any], Any]:
    names = source.split(".")

    def read(row: Any) -> Any:
        for name in names:
            row = row.get(name) if isinstance(row, Mapping) else getattr(row, name, None)
            if row is None:
                return None
        return row

    return read


class Shape:
    """What one kind of thing looks like; `name="text?:source.path"`, with ? where it may be null.

    A type may also be another Shape, or a list of one.
    """

    def __init__(self, name: str, /, **fields: Any) -> None:
        self.name = name
        self._readers: dict[str, tuple[Callable[[Any], Any], Any]] = {}
        properties = {}
        for key, said in fields.items():
            if isinstance(said, Shape | list):
                inner = said[0] if isinstance(said, list) else said
                self._readers[key] = (_reader(key), said)
                schema: Any = inner.schema()
                if isinstance(said, list):
                    schema = {"type": "array", "items": schema}
            else:
                words, _, source = str(said).partition(":")
                schema = TYPES[words.rstrip("?")]
                if words.endswith("?") and "type" in schema:
                    schema = {**schema, "type": [schema["type"], "null"]}
                self._readers[key] = (_reader(source or key), None)
            properties[key] = schema
        self.properties = properties
        SHAPES[name] = self

    def write(self, row: Any) -> dict[str, Any]:
        """Write one thing."""
        written = {}
        for key, (read, inner) in self._readers.items():
            value = read(row)
            if isinstance(inner, list):
                written[key] = [inner[0].write(one) for one in value or ()]
            elif inner is not None:
                written[key] = inner.write(value)
            else:
                written[key] = plain(value)
        return written

    def schema(self) -> dict[str, Any]:
        """Point at the schema."""
        return {"$ref": f"#/components/schemas/{self.name}"}

    def component(self) -> dict[str, Any]:
        """Give the schema itself."""
        return {
            "type": "object",
            "properties": self.properties,
            "required": list(self.properties),
        }
