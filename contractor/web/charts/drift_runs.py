"""How one detector has drifted, run by run, and where it is likely to go: to be drawn, and said."""

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext, ngettext

from contractor.web.charts.pen import say_day, say_exact
from contractor.web.charts.range_bar import NEARING_SHARE


@dataclass(frozen=True, kw_only=True)
class DriftPoint:
    """One reading: the day, what the control unit corrected then [%/ft], whether it counts."""

    day: date
    drift: float
    counted: bool = True


@dataclass(frozen=True, kw_only=True)
class Run:
    """The readings between two cleanings or replacements, oldest first."""

    points: tuple[DriftPoint, ...]
    ended_by: str = ""  # the word at the drop: "cleaned", "replaced"


@dataclass(frozen=True, kw_only=True)
class Future:
    """One day of the forecast: the middle and the 10 to 90 % band. [%/ft]"""

    day: date
    low: float
    middle: float
    high: float


@dataclass(frozen=True, kw_only=True)
class PlannedVisit:
    """A visit to come, and the chance (0 to 1) of reaching the limit before it."""

    day: date
    chance: float | None = None


@dataclass(frozen=True, kw_only=True)
class Sudden:
    """Something sudden that the reading of a day shows: a fall nobody recorded, or a rise."""

    day: date
    drift: float
    word: str  # "cleaned?", "sudden rise"


@dataclass(frozen=True, kw_only=True)
class DriftHistory:
    """All that is drawn; with nothing known, the axes alone are the empty measure."""

    runs: tuple[Run, ...]
    limit: float | None = None  # [%/ft]
    warning_share: float = NEARING_SHARE
    future: tuple[Future, ...] = ()
    p10: date | None = None
    p50: date | None = None
    p90: date | None = None
    visits: tuple[PlannedVisit, ...] = ()
    sudden: tuple[Sudden, ...] = ()
    second: tuple[tuple[date, float], ...] = ()  # ends of a plain line, the second opinion
    today: date
    share: bool = False  # the axis in percent of the allowance instead of %/ft
    limit_words: str = ""  # instead of "limit 1.00: nothing left to correct with"
    warning_words: str = ""
    tall: int = 268  # from the top of the axis to its foot [px]


def say_history(history: DriftHistory) -> str:
    """Say the drawing in words."""
    points = [point for run in history.runs for point in run.points]
    if not points:
        return gettext("Drift: no readings yet.")
    latest = max(points, key=lambda point: point.day)
    readings = ngettext("%(count)s reading", "%(count)s readings", len(points))
    runs = ngettext("%(count)s run", "%(count)s runs", len(history.runs))
    said = [
        gettext("Drift of %(readings)s in %(runs)s; %(drift)s %%/ft corrected on %(day)s.")
        % {
            "readings": readings % {"count": len(points)},
            "runs": runs % {"count": len(history.runs)},
            "drift": say_exact(latest.drift),
            "day": say_day(latest.day),
        }
    ]
    if history.limit:
        said.append(gettext("Limit %(limit)s.") % {"limit": say_exact(history.limit)})
    if history.p50:
        even = gettext("An even chance of reaching it by %(day)s.")
        said.append(even % {"day": say_day(history.p50)})
    said.extend(_say_sudden(one) for one in history.sudden)
    said.extend(
        gettext("%(chance)s before %(day)s.")
        % {"chance": say_chance(visit.chance), "day": say_day(visit.day)}
        for visit in history.visits
        if visit.chance is not None
    )
    return " ".join(said)


def _say_sudden(one: Sudden) -> str:
    told = {"day": say_day(one.day), "what": gettext(one.word.rstrip("?"))}
    if "?" in one.word:
        return gettext("On %(day)s: %(what)s, it seems.") % told
    return gettext("On %(day)s: %(what)s.") % told


def say_chance(chance: float) -> str:
    """Say a chance in whole percent; what is neither sure nor impossible never reads so."""
    percent = round(chance * 100)
    if percent == 0 and chance > 0:
        return gettext("under %(percent)s %%") % {"percent": 1}
    if percent == 100 and chance < 1:
        return gettext("over %(percent)s %%") % {"percent": 99}
    return f"{percent} %"
