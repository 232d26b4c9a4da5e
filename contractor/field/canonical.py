"""Write an entry as the bytes that are hashed: the same on the tablet and on the server."""

import hashlib
import json
from collections.abc import Mapping
from typing import Any


def canonical(value: Any) -> str:
    """Write JSON with sorted keys and no spaces; numbers are whole, measures stay as typed.

    >>> canonical({"b": "2,5", "a": [1, None]})
    '{"a":[1,null],"b":"2,5"}'
    """
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def hash_entry(entry: Mapping[str, Any]) -> str:
    """Hash all of an entry but its hash."""
    said = canonical({key: value for key, value in entry.items() if key != "hash"})
    return hashlib.sha256(said.encode("utf-8", "surrogatepass")).hexdigest()
