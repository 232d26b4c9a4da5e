"""Take what a program sends as the pages' own forms take what people type."""

from collections.abc import Mapping
from typing import Any

from django import forms

_TEXT: dict[str, Any] = {"type": "string"}
#: Whole numbers that the database holds.
_MOST = 2_147_483_647


def _values(field: Any) -> list[str]:
    return [str(value) for value, _ in field.choices]


def _schema_of(field: forms.Field) -> dict[str, Any]:
    """Say in the schema what a form's field takes."""
    found: dict[str, Any]
    match field:
        case forms.BooleanField():
            found = {"type": "boolean"}
        case forms.MultipleChoiceField():
            found = {"type": "array", "items": {"type": "string"}}
        case forms.DecimalField() | forms.FloatField():
            found = {"type": "number"}
        case forms.IntegerField():
            found = {"type": "integer", "minimum": -_MOST, "maximum": _MOST}
        case forms.JSONField():
            found = {}
        case forms.UUIDField():
            found = {**_TEXT, "format": "uuid"}
        case forms.DateTimeField():
            found = {
                **_TEXT,
                "description": "By the clock of the building, such as 2026-11-25T14:30, or with "
                "its own offset, such as 2026-11-25T14:30Z.",
            }
        case forms.DateField():
            found = {**_TEXT, "format": "date"}
        case forms.EmailField():
            found = {**_TEXT, "format": "email"}
        case _:
            found = dict(_TEXT)
    if isinstance(field, forms.ChoiceField) and not isinstance(field, forms.MultipleChoiceField):
        values = _values(field)
        if 0 < len(values) <= 40:
            found["enum"] = values if field.required else list(dict.fromkeys(["", *values]))
    elif isinstance(field, forms.MultipleChoiceField):
        values = _values(field)
        if 0 < len(values) <= 40:
            found["items"] = {**_TEXT, "enum": values}
    low, high = getattr(field, "min_value", None), getattr(field, "max_value", None)
    if low is not None:
        found["minimum"] = float(low) if not isinstance(low, int) else low
    if high is not None:
        found["maximum"] = float(high) if not isinstance(high, int) else high
    longest = getattr(field, "max_length", None)
    if longest and found.get("type") == "string" and "enum" not in found:
        found["maxLength"] = longest
    if field.initial not in (None, "", []) and not callable(field.initial):
        found["default"] = field.initial
        if found.get("type") == "number":
            found["default"] = float(field.initial)
    if field.label:
        found.setdefault("description", str(field.label))
    if field.help_text:
        found["description"] = f"{found.get('description', '')}. {field.help_text}".lstrip(". ")
    return found


def schema_of(form: type[forms.Form], *, partly: bool = False) -> dict[str, Any]:
    """Give the schema of what a form takes; partly, where what is left out stays as it is."""
    fields = getattr(form, "base_fields", {})
    required = [
        name
        for name, field in fields.items()
        if field.required and field.initial is None and not partly
    ]
    found: dict[str, Any] = {
        "type": "object",
        "properties": {name: _schema_of(field) for name, field in fields.items()},
        "additionalProperties": False,
    }
    if partly:
        found["minProperties"] = 1
    if required:
        found["required"] = required
    return found


def is_writable(value: Any) -> bool:
    """Tell whether text can be kept: no half characters, no NUL."""
    if isinstance(value, str):
        return "\x00" not in value and not any("\ud800" <= one <= "\udfff" for one in value)
    if isinstance(value, Mapping):
        return all(is_writable(key) and is_writable(one) for key, one in value.items())
    if isinstance(value, list):
        return all(is_writable(one) for one in value)
    return True


def _wrong_kind(field: forms.Field, value: Any) -> str:
    """Say what is sent in another kind than the field takes."""
    match field:
        case forms.BooleanField():
            return "" if isinstance(value, bool) else "Send true or false."
        case forms.MultipleChoiceField():
            fits = isinstance(value, list) and all(isinstance(one, str) for one in value)
            return "" if fits else "Send a list of words."
        case forms.JSONField():
            return ""
        case forms.DecimalField() | forms.FloatField():
            fits = isinstance(value, int | float | str) and not isinstance(value, bool)
            return "" if fits else "Send a number."
        case forms.IntegerField():
            fits = isinstance(value, int) and not isinstance(value, bool)
            return "" if fits and abs(value) <= _MOST else "Send a whole number."
    return "" if isinstance(value, str) else "Send text."


def problems_of(form: type[forms.Form], data: Any) -> dict[str, list[str]]:
    """Name what cannot be taken before the form looks: unknown names, other kinds of values."""
    fields = getattr(form, "base_fields", {})
    found: dict[str, list[str]] = {}
    for name, value in data.items():
        if name not in fields:
            shown = name if is_writable(name) else "?"
            found[shown[:80]] = ["There is no such field."]
        elif value is None:
            if fields[name].required:
                found[name] = ["This field is required."]
        elif not is_writable(value):
            found[name] = ["This text holds characters that cannot be kept."]
        elif wrong := _wrong_kind(fields[name], value):
            found[name] = [wrong]
    return found


def usual(form: type[forms.Form]) -> dict[str, Any]:
    """Give what a form begins with: what a program leaves out is taken as it stands there."""
    fields = getattr(form, "base_fields", {})
    return {name: field.initial for name, field in fields.items() if field.initial is not None}


def standing(form: type[forms.Form], row: Any) -> dict[str, Any]:
    """Give what stands in a row, under the names of a form."""
    return {name: getattr(row, name, None) for name in getattr(form, "base_fields", {})}
