"""Call the API with made-up input: right by the description, wrong by it, and nearly right."""

import json
import random
import re
from collections.abc import Callable
from typing import Any
from uuid import UUID

import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode

from contractor.programs import schema

UUID_LIKE = re.compile(r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$")
#: A call: method, address with query, body as bytes or None, media type, headers.
Call = tuple[str, str, bytes | None, str, dict[str, str]]


def operations() -> list[Any]:
    """List the operations of the description."""
    loaded = schemathesis.openapi.from_dict(schema.describe())
    return [one.ok() for one in loaded.get_all_operations()]


def _exchange(value: Any, keys: list[str], luck: random.Random) -> Any:
    """Put other keys in the place of keys, at any depth."""
    if isinstance(value, dict):
        return {name: _exchange(one, keys, luck) for name, one in value.items()}
    if isinstance(value, list):
        return [_exchange(one, keys, luck) for one in value]
    if isinstance(value, str) and UUID_LIKE.match(value) and luck.random() < 0.7:
        return luck.choice(keys)
    return value


def _example(operation: Any) -> tuple[dict[str, str], Any]:
    raw = operation.definition.raw
    named = {
        one["name"]: str(one["example"]) for one in raw.get("parameters", []) if one["in"] == "path"
    }
    content = raw.get("requestBody", {}).get("content", {})
    return named, content.get("application/json", {}).get("example")


def make_call(operation: Any, case: Any, foreign: list[UUID], number: int) -> Call:
    """Turn one generated case into a call, near to what is there."""
    luck = random.Random(number)
    named, example = _example(operation)
    theirs = [str(one) for one in foreign]
    path = operation.path
    for name, value in named.items():
        roll = luck.random()
        made = value
        if name != "firm" and roll < 0.25 and theirs:
            made = luck.choice(theirs)
        elif name != "firm" and roll < 0.3:
            made = str(UUID(int=luck.getrandbits(128)))
        path = path.replace("{" + name + "}", made)
    query = {k: v for k, v in (case.query or {}).items() if luck.random() < 0.6}
    body = case.body
    if isinstance(example, dict) and luck.random() < 0.6:
        kept = dict(example)
        if isinstance(body, dict) and body and luck.random() < 0.7:
            name = luck.choice(sorted(body, key=str))
            kept[name] = body[name]
        body = _exchange(kept, theirs, luck) if theirs and luck.random() < 0.3 else kept
    headers = {}
    if operation.method.upper() == "POST" and luck.random() < 0.3:
        headers["Idempotency-Key"] = f"key-{luck.randrange(20)}"
    data, media = None, "application/json"
    if case.media_type == "multipart/form-data":
        text = json.dumps(str(body)).encode()[: 2**16]
        data = b'--x\r\nContent-Disposition: form-data; name="file"; filename="a.csv"\r\n\r\n'
        data, media = data + text + b"\r\n--x--\r\n", "multipart/form-data; boundary=x"
    elif operation.method.upper() in ("POST", "PATCH") and (
        isinstance(body, dict | list | str | int | float | bool) or body is None
    ):
        data = json.dumps(body).encode()
    address = path + ("?" + _query(query) if query else "")
    return operation.method.upper(), address, data, media, headers


def _query(query: dict[str, Any]) -> str:
    from urllib.parse import urlencode

    plain = {
        str(k).encode("utf-8", "replace"): str(v).encode("utf-8", "replace")
        for k, v in query.items()
    }
    return urlencode(plain)


def run(
    *, each: int, seed_number: int, foreign: list[UUID], act: Callable[[Any, Call], None]
) -> int:
    """Make so many calls of each operation, half right by the description; tell how many.

    Fewer than four of each are all right for one operation, and all wrong for the next.
    """
    made = 0
    for place, operation in enumerate(operations()):
        modes = [GenerationMode.POSITIVE, GenerationMode.NEGATIVE]
        if each < 4:
            modes = [modes[place % 2]]
        for mode in modes:
            many = each // len(modes)
            for case in _draw(_cases(operation, mode), many, seed_number + place):
                made += 1
                act(operation, make_call(operation, case, foreign, seed_number + made))
    return made


def _draw(cases: Any, many: int, number: int) -> list[Any]:
    """Draw so many cases, the same for the same number."""
    drawn: list[Any] = []

    @seed(number)
    @settings(
        max_examples=many,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=cases)
    def draw(case: Any) -> None:
        drawn.append(case)

    if not cases.is_empty:
        draw()
    return drawn


def _cases(operation: Any, mode: GenerationMode) -> Any:
    try:
        return operation.as_strategy(generation_mode=mode)
    except Exception:  # nothing can be made wrong of an operation without parameters
        return operation.as_strategy() if mode is GenerationMode.POSITIVE else st.nothing()
