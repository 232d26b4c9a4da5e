"""Lay the API's description out for people."""

import json
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Field:
    """One field of a body, or one parameter of an address."""

    name: str
    kind: str
    words: str
    is_required: bool


@dataclass(frozen=True)
class Shown:
    """One operation as people read it."""

    key: str
    method: str
    path: str
    summary: str
    description: str
    parameters: tuple[Field, ...]
    body: tuple[Field, ...]
    example: str
    call: str
    answer: str
    fields: tuple[Field, ...]


def _kind(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        return str(schema["$ref"]).rpartition("/")[2]
    if "enum" in schema:
        return " | ".join(str(one) or "“”" for one in schema["enum"][:12])
    said = schema.get("type", "any")
    if isinstance(said, list):
        said = " or ".join(said)
    if said == "array":
        return f"list of {_kind(schema.get('items', {}))}"
    return f"{said}, {schema['format']}" if "format" in schema else str(said)


def _fields(schema: dict[str, Any]) -> tuple[Field, ...]:
    required = schema.get("required", [])
    return tuple(
        Field(name, _kind(one), str(one.get("description", "")), name in required)
        for name, one in schema.get("properties", {}).items()
    )


def _answer(operation: dict[str, Any], parts: dict[str, Any]) -> tuple[str, tuple[Field, ...]]:
    for status, said in operation["responses"].items():
        if not status.startswith("2"):
            continue
        content = said.get("content", {})
        schema = content.get("application/json", {}).get("schema", {})
        if "properties" in schema:
            name = _kind(schema["properties"]["items"]["items"])
            return f"{status}: list of {name}", _fields(parts[name])
        if schema:
            name = _kind(schema)
            return f"{status}: {name}", _fields(parts[name])
        return f"{status}: {next(iter(content), 'nothing')}", ()
    return "", ()


def _call(method: str, path: str, example: Any, is_file: bool) -> str:
    parts = ["curl", '-H "Authorization: Bearer $TOKEN"']
    if method == "POST":
        parts.append('-H "Idempotency-Key: $(uuidgen)"')
    if is_file:
        parts.append("-F file=@print-out.csv")
    elif example is not None:
        parts.append('-H "Content-Type: application/json"')
        parts.append(f"-d '{json.dumps(example, ensure_ascii=False)}'")
    if method == "PATCH" or (method == "POST" and example is None and not is_file):
        parts.append(f"-X {method}")
    return " ".join(parts) + f' "$HOST{path}"'


def list_groups(schema: dict[str, Any]) -> list[tuple[str, list[Shown]]]:
    """Group the operations as the product's menu does."""
    groups: dict[str, list[Shown]] = {}
    parts = schema["components"]["schemas"]
    for path, methods in schema["paths"].items():
        for method, operation in methods.items():
            filled, parameters = path, []
            for one in operation.get("parameters", []):
                if one["in"] == "path":
                    filled = filled.replace("{" + one["name"] + "}", str(one["example"]))
                    continue
                words = str(one.get("description", ""))
                parameters.append(
                    Field(one["name"], _kind(one["schema"]), words, bool(one.get("required")))
                )
            content = operation.get("requestBody", {}).get("content", {})
            body = content.get("application/json", {})
            example = body.get("example")
            answer, fields = _answer(operation, parts)
            shown = Shown(
                key=operation["operationId"],
                method=method.upper(),
                path=path,
                summary=operation["summary"],
                description=operation.get("description", ""),
                parameters=tuple(parameters),
                body=_fields(body.get("schema", {})),
                example="" if example is None else json.dumps(example, indent=2),
                call=_call(method.upper(), filled, example, "multipart/form-data" in content),
                answer=answer,
                fields=fields,
            )
            groups.setdefault(operation["tags"][0], []).append(shown)
    return list(groups.items())
