"""Say what each nightly task did, how long it took, and which night did not run."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from time import monotonic, sleep
from uuid import UUID

from django.conf import settings

from contractor.tenancy.models import NightRun, NightState
from contractor.tenancy.scope import scope

#: The tasks of a night, by the name they are queued under, in words.
TASKS = {
    "due.night_of_firm": "Due dates swept; editions and rules put into force",
    "drift.sweep_firm": "Forecasts of the whole fleet renewed",
}
#: When a night is over and has to have run; the last of its tasks begins at 02:40.
OVER_AT = time(6, 0, tzinfo=UTC)
SHOWN = 14
LONGEST_REST_S = 60.0


@dataclass
class Doing:
    """What a nightly task says of itself while it runs."""

    did: str = ""


@contextmanager
def kept(*, firm_id: UUID, task: str, clock: Callable[[], datetime]) -> Iterator[Doing]:
    """Keep a row of one nightly task around its work, in scopes of its own.

    A task that is killed leaves its row as running; started again it takes the same row. What
    goes wrong is written down and raised again.
    """
    began = clock()
    with scope(firm_id):
        run, _ = NightRun.objects.get_or_create(
            firm_id=firm_id, task=task, night_on=began.date(), defaults={"began_at": began}
        )
        NightRun.objects.filter(pk=run.pk).update(
            state=NightState.RUNNING, starts=run.starts + 1, began_at=began, ended_at=None
        )
    doing = Doing()
    try:
        yield doing
    except Exception as error:
        _end(firm_id, run.pk, NightState.FAILED, type(error).__name__, clock())
        raise
    _end(firm_id, run.pk, NightState.DONE, doing.did, clock())


@contextmanager
def unhurried() -> Iterator[None]:
    """Rest after a piece of a night's work, `NIGHT_REST` times as long as it took.

    A night has hours and needs minutes; while it works, pages that are asked for share processors
    with it. Nothing is held meanwhile: it stands around a piece's scopes, never in one.
    """
    began = monotonic()
    yield
    sleep(min(settings.NIGHT_REST * (monotonic() - began), LONGEST_REST_S))


def _end(firm_id: UUID, key: UUID, state: str, did: str, now: datetime) -> None:
    with scope(firm_id):
        NightRun.objects.filter(pk=key).update(state=state, ended_at=now, did=did[:300])


@dataclass(frozen=True)
class Night:
    """One night of a firm."""

    on: date
    runs: dict[str, NightRun] = field(default_factory=dict)
    is_over: bool = True

    @property
    def rows(self) -> list[tuple[str, NightRun | None]]:
        """Each task in words, with its run; None where it did not run."""
        return [(words, self.runs.get(task)) for task, words in TASKS.items()]

    @property
    def state(self) -> NightState:
        """How the night stands as a whole; before it is over, what has not come yet may come."""
        states = {run.state if run else None for _, run in self.rows}
        if self.missing or NightState.FAILED in states:
            return NightState.FAILED
        return NightState.DONE if states == {NightState.DONE} else NightState.RUNNING

    @property
    def missing(self) -> list[str]:
        """What did not run to its end, in words."""
        if not self.is_over:
            return []
        return [words for words, run in self.rows if run is None or run.state != NightState.DONE]


def list_nights(*, firm_id: UUID, now: datetime, most: int = SHOWN) -> list[Night]:
    """List the last nights, the latest first; none from before the firm's first night is missed."""
    today = now.astimezone(UTC).date()
    runs = NightRun.objects.filter(firm_id=firm_id, night_on__gt=today - timedelta(days=most))
    by_night: dict[date, dict[str, NightRun]] = {}
    for run in runs.order_by("night_on", "pk"):
        by_night.setdefault(run.night_on, {})[run.task] = run
    first = (
        NightRun.objects.filter(firm_id=firm_id)
        .order_by("night_on")
        .values_list("night_on", flat=True)
        .first()
    )
    is_over = now.astimezone(UTC).timetz() >= OVER_AT
    return [
        Night(day, by_night.get(day, {}), day < today or is_over)
        for day in (today - timedelta(days=back) for back in range(most))
        if first is not None and day >= first and (day < today or is_over or day in by_night)
    ]


def find_missed(*, firm_id: UUID, now: datetime) -> Night | None:
    """Find the latest night, if something of it did not run to its end.

    A firm without any night yet misses one a day and a half after it was founded.
    """
    nights = list_nights(firm_id=firm_id, now=now, most=3)
    if nights:
        return next((night for night in nights[:1] if night.missing), None) or _skipped(nights, now)
    return None


def _skipped(nights: list[Night], now: datetime) -> Night | None:
    """Find yesterday's night where today's has not come yet and yesterday's failed."""
    if nights[0].is_over or len(nights) < 2:
        return None
    return nights[1] if nights[1].missing else None
