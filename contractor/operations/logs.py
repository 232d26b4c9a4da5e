"""Lines of the log: one JSON object each, with request, firm and task; secrets never.

No import of Django here: settings hand this to logging before anything else stands.
"""

import json
import logging
import re
from collections.abc import Iterable
from datetime import UTC, datetime

import structlog

HIDDEN = "[hidden]"
#: What travels as a secret in an address, a header or a connection's name.
_SHAPES = (
    (re.compile(r"(\w+://[^\s:/@]*):[^\s@/]+@"), r"\1:" + HIDDEN + "@"),
    (re.compile(r"(/s/|/unsubscribe/|/invitations?/|/reset/key/)[^\s/?'\")]+"), r"\1" + HIDDEN),
    (
        re.compile(
            r"(?i)((?:authorization|cookie|x-tablet-key|x-csrftoken|csrfmiddlewaretoken"
            r"|sessionid|password\d?|passwd|secret|token|code)[\"']?\s*[=:]\s*[\"']?)"
            r"(?:(Bearer|Basic|Token)\s+)?[^\s&,;\"'}]+"
        ),
        r"\1" + HIDDEN,
    ),
)
SHORTEST = 8


class Lines(logging.Formatter):
    """Write a record as a line; `plain` for people's eyes, else JSON."""

    def __init__(self, *, secrets: Iterable[str] = (), plain: bool = False) -> None:
        super().__init__()
        self.plain = plain
        known = sorted({word for word in secrets if len(word) >= SHORTEST}, key=len, reverse=True)
        self.known = re.compile("|".join(map(re.escape, known))) if known else None

    def format(self, record: logging.LogRecord) -> str:
        """Answer the line, its secrets hidden."""
        text = record.getMessage()
        if record.exc_info:
            text += "\n" + self.formatException(record.exc_info)
        text = self.hide(text)
        bound = structlog.contextvars.get_contextvars()
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        if self.plain:
            about = " ".join(f"{name}={value}" for name, value in sorted(bound.items()))
            return f"{at} {record.levelname} {record.name}: {text}{f' [{about}]' if about else ''}"
        return json.dumps(
            {"at": at, "level": record.levelname, "logger": record.name, "message": text, **bound},
            default=str,
            ensure_ascii=False,
        )

    def hide(self, text: str) -> str:
        """Hide what is known to be secret, and what has the shape of a secret."""
        if self.known:
            text = self.known.sub(HIDDEN, text)
        for shape, instead in _SHAPES:
            text = shape.sub(instead, text)
        return text
