"""Write the API's OpenAPI 3.1 description from its operations."""

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.openapi import AutoSchema

from contractor.programs import examples
from contractor.programs.resource import MOST, USUAL, Operation
from contractor.programs.shapes import SHAPES
from contractor.programs.typed import schema_of

PROBLEM = {
    "type": "object",
    "description": "Problem details (RFC 9457): what is so, in a sentence, and what to do.",
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "code": {"type": "string", "description": "One word, for programs."},
        "fields": {"type": "object", "description": "For each field that cannot be taken, why."},
    },
    "required": ["type", "title", "status", "detail", "code", "fields"],
}
_REFUSALS = {
    "400": "The call cannot be understood, or some fields cannot be taken.",
    "401": "No token, or one that opens nothing here.",
    "403": "The token or its maker may not do this.",
    "404": "There is no such thing in this firm.",
    "429": "Too many calls; Retry-After says for how long to wait.",
}
_REFUSED_WRITES = {
    "409": "It cannot be done as things stand.",
    "413": "The file is too large.",
    "415": "The body is not of a kind that is taken here.",
    "422": "The file cannot be read, or the Idempotency-Key was used for another call.",
}
_ANSWERS = Path(__file__).with_name("answers.json")
_FILTER_KINDS = {
    "text": {"type": "string"},
    "id": {"type": "string", "format": "uuid"},
    "day": {"type": "string", "format": "date"},
}


@cache
def _answers() -> dict[str, Any]:
    """Read the examples of answers: what the examples' calls were really answered."""
    found: dict[str, Any] = json.loads(_ANSWERS.read_text())
    return found


def _snake(name: str) -> str:
    return re.sub(r"(?<!^)(?=[A-Z])", "_", name).lower()


class Described(AutoSchema):
    """Describe one method of a Resource by its operation."""

    @property
    def operation(self) -> Operation:
        """What the method takes and answers."""
        found: Operation = getattr(self.view, self.method.lower()).operation
        return found

    def get_operation_id(self) -> str:
        """Name the operation after its method and address."""
        area = type(self.view).__module__.split(".")[1]
        return f"{self.method.lower()}_{area}_{_snake(type(self.view).__name__)}"

    def get_summary(self) -> str:
        """Take the first line of the method's own words."""
        words = getattr(self.view, self.method.lower()).__doc__ or ""
        return str(words).strip().split("\n")[0]

    def get_description(self) -> str:  # type: ignore[override]
        """Take what follows the first line, and say what it needs."""
        words = getattr(self.view, self.method.lower()).__doc__ or ""
        rest = " ".join(str(words).strip().split("\n")[1:])
        needs = f"Needs the permission `{self.operation.permission}`."
        return f"{' '.join(rest.split())} {needs}".strip()

    def get_tags(self) -> list[str]:
        """Group operations as the product's menu does."""
        return [self.operation.group or getattr(self.view, "group", "")]

    def get_auth(self) -> list[dict[str, Any]]:
        """Say how to knock."""
        return [{"token": []}, {"session": []}]

    def _get_parameters(self) -> list[dict[str, Any]]:
        about = self.operation
        found: list[dict[str, Any]] = []
        for name in re.findall(r"{(\w+)}", self.path):
            is_firm = name == "firm"
            example = examples.FIRM if is_firm else examples.key(about.keys.get(name, name))
            schema = {"type": "string"} if is_firm else {"type": "string", "format": "uuid"}
            if is_firm:
                schema["pattern"] = "^[-a-zA-Z0-9_]+$"
            found.append(
                {"name": name, "in": "path", "required": True, "schema": schema}
                | {"example": example}
            )
        for one in about.filters:
            schema = dict(_FILTER_KINDS[one.kind])
            if one.values:
                schema["enum"] = list(one.values)  # type: ignore[assignment]
            said = {"name": one.name, "in": "query", "schema": schema, "description": one.about}
            found.append(said | ({"example": one.example} if one.example else {}))
        if about.many and self.method == "GET":
            limit = {"type": "integer", "minimum": 1, "maximum": MOST, "default": USUAL}
            found.append({"name": "limit", "in": "query", "schema": limit})
            found.append(
                {
                    "name": "cursor",
                    "in": "query",
                    "schema": {"type": "string", "format": "uuid"},
                    "description": "What `next` said on the page before.",
                }
            )
        if self.method == "POST":
            found.append(
                {
                    "name": "Idempotency-Key",
                    "in": "header",
                    "schema": {"type": "string", "maxLength": 120, "pattern": "^[!-~]+$"},
                    "description": "The same key with the same call gets the same answer for 24 "
                    "hours; with another call it is refused.",
                }
            )
        return found

    def _get_request_body(self, direction: str = "request") -> dict[str, Any] | None:
        about = self.operation
        if about.file:
            name = {"type": "string", "format": "binary"}
            schema = {"type": "object", "properties": {"file": name}, "required": ["file"]}
            return {"required": True, "content": {"multipart/form-data": {"schema": schema}}}
        if about.takes is None:
            return None
        schema = schema_of(about.takes, partly=about.partly)
        media = {"schema": schema, "example": about.example}
        return {"required": True, "content": {"application/json": media}}

    def _get_response_bodies(self, direction: str = "response") -> dict[str, Any]:
        about = self.operation
        found: dict[str, Any] = {}
        if about.answer is not None:
            schema = about.answer.schema()
            if about.many:
                items = {"type": "array", "items": schema}
                following = {"type": ["string", "null"]}
                schema = {
                    "type": "object",
                    "properties": {"items": items, "next": following},
                    "required": ["items", "next"],
                }
            media: dict[str, Any] = {"schema": schema}
            if (example := _answers().get(self.get_operation_id())) is not None:
                media["example"] = example
            found[str(about.status)] = {
                "description": "Done.",
                "content": {"application/json": media},
            }
        elif about.media != "application/json":
            binary = {"type": "string", "format": "binary"}
            found["200"] = {
                "description": "The file.",
                "content": {about.media: {"schema": binary}},
            }
        else:
            found["204"] = {"description": "Done; nothing to say."}
        writes = {} if self.method == "GET" else _REFUSED_WRITES
        problem = {"schema": {"$ref": "#/components/schemas/Problem"}}
        for status, words in sorted((_REFUSALS | writes).items()):
            found[status] = {
                "description": words,
                "content": {"application/problem+json": problem},
            }
        return found


def only_ours(endpoints: list[tuple[str, str, str, Any]]) -> list[tuple[str, str, str, Any]]:
    """Describe version 1 only."""
    return [
        one
        for one in endpoints
        if one[0].startswith("/api/v1/f/")
        and hasattr(getattr(one[3].cls, one[2].lower()), "operation")
    ]


def with_shapes(result: dict[str, Any], **_more: Any) -> dict[str, Any]:
    """Add the shapes of things, and the two ways to knock."""
    parts = result.setdefault("components", {})
    parts["schemas"] = {name: shape.component() for name, shape in sorted(SHAPES.items())}
    parts["schemas"]["Problem"] = PROBLEM
    parts["securitySchemes"] = {
        "token": {
            "type": "http",
            "scheme": "bearer",
            "description": "A token made on the page API and hooks.",
        },
        "session": {
            "type": "apiKey",
            "in": "cookie",
            "name": "sessionid",
            "description": "A signed-in member; writes need the header X-CSRFToken.",
        },
    }
    return result


@cache
def describe() -> dict[str, Any]:
    """Give the whole description; it is the same for everyone, and holds no firm's data."""
    found: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)
    return found
