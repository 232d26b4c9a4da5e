"""What is foreseen of a detector, and how it is reckoned without keeping the memory it takes."""

import os
import pickle
from dataclasses import dataclass
from datetime import date
from typing import Any

from contractor.web import charts


@dataclass(frozen=True)
class Foreseen:
    """When one detector reaches its limit with a chance of 10, 50 and 90 %; None: not foreseen."""

    p10: date | None
    p50: date | None
    p90: date | None
    on: date  # as seen from this day
    future: tuple[charts.Future, ...] = ()


def foresee_apart(record: dict[str, Any], *, on: date, drawn: set[str]) -> dict[str, Foreseen]:
    """Forecast in a process of its own: the arithmetic's memory is gone before pages are laid out.

    Raises
    ------
    RuntimeError
        If that process ends without an answer; its complaint stands in the log.
    """
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        code = 1
        try:
            from contractor.reports.foreseeing import foresee

            with os.fdopen(writing, "wb") as target:
                pickle.dump(foresee(record, on=on, drawn=drawn), target)
            code = 0
        finally:
            os._exit(code)
    os.close(writing)
    with os.fdopen(reading, "rb") as source:
        data = source.read()
    _, status = os.waitpid(child, 0)
    if status:
        raise RuntimeError("The forecast ended without an answer.")
    found: dict[str, Foreseen] = pickle.loads(data)
    return found
