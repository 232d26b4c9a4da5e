"""Write down how a backup, a drill or a return ended."""

from datetime import datetime
from typing import Any

from contractor.operations.models import Run


def note(
    *,
    kind: str,
    generation: str,
    began_at: datetime,
    ended_at: datetime,
    is_good: bool,
    words: str,
    figures: dict[str, Any] | None = None,
) -> Run:
    """Write one run down, good or not."""
    return Run.objects.create(
        kind=kind,
        generation=generation,
        began_at=began_at,
        ended_at=ended_at,
        is_good=is_good,
        words=words,
        figures=figures or {},
    )
