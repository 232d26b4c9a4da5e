"""Draw what was said against what came, band by band of chances."""

from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from contractor.web.charts.pen import Scale, drawing, element, say_count, words

_ROW = 36.0
_TOP = 30.0
_LEFT = 92.0
_RIGHT = 92.0


@dataclass(frozen=True, kw_only=True)
class SaidBand:
    """One band of chances: what was said in it on average, what came, what that can prove."""

    low: float
    high: float
    said: float  # mean chance said
    share: float  # share that came
    least: float  # ends of the interval of the true share
    most: float
    came: int
    count: int

    @property
    def agrees(self) -> bool:
        """Whether what was said lies within what came can prove."""
        return self.least <= self.said <= self.most


@dataclass(frozen=True, kw_only=True)
class SaidAndCame:
    """A reliability drawing; bands without forecasts are left out."""

    bands: tuple[SaidBand, ...] = ()


def _say_band(band: SaidBand) -> str:
    ends = {"low": f"{100 * band.low:g}", "high": f"{100 * band.high:g}"}
    return gettext("%(low)s to %(high)s %%") % ends


def draw_said_and_came(shown: SaidAndCame, *, width: float | None = None) -> SafeString:
    """Draw a row for each band: the interval of what came, its bead, and a tick where it was said.

    All rows stand on one axis from 0 to 100 %.
    """
    inner = None if width is None else width - _LEFT - _RIGHT
    scale = Scale(low=0.0, high=1.0, width=inner)
    base = _TOP + _ROW * max(len(shown.bands), 1)
    parts = []
    for tenth in range(0, 11, 2):
        at = tenth / 10
        parts.append(scale.upright(at, _TOP - 6, base, class_="s-line", stroke_width=1))
        anchor = {0: "start", 10: "end"}.get(tenth, "middle")
        parts.append(
            scale.words(
                at,
                base + 20,
                f"{10 * tenth} %",
                face="mono",
                anchor=anchor,
                wide=tenth in (2, 4, 6, 8),
            )
        )
    parts.append(
        element("line", x1=0, x2=scale.place(1), y1=base, y2=base, class_="s-ink", stroke_width=1.5)
    )
    for place, band in enumerate(shown.bands):
        y = _TOP + _ROW * (place + 0.5)
        tone = "ink" if band.agrees else "ochre"
        parts.append(words(_say_band(band), x=-_LEFT + 4, y=y + 5))
        parts.append(scale.level(band.least, band.most, y, class_=f"s-{tone}", stroke_width=2))
        parts.append(scale.bead(band.share, y, 5.2, class_=f"f-{tone}"))
        parts.append(scale.upright(band.said, y - 12, y + 12, class_="s-deed", stroke_width=3))
        parts.append(
            scale.words(
                1.0,
                y + 5,
                gettext("%(came)s of %(count)s")
                % {"came": say_count(band.came), "count": say_count(band.count)},
                face="mono",
                dx=10,
                tone=tone if not band.agrees else "ink2",
            )
        )
    said = "; ".join(
        gettext("%(band)s: %(said)s %% said, %(came)s of %(count)s came")
        % {
            "band": _say_band(band),
            "said": f"{100 * band.said:.0f}",
            "came": band.came,
            "count": band.count,
        }
        for band in shown.bands
    )
    return drawing(
        parts,
        title=(
            gettext("What was said against what came. %(bands)s.") % {"bands": said}
            if said
            else gettext("Nothing to compare yet.")
        ),
        height=base + 28,
        width=width,
        left=_LEFT,
        right=_RIGHT,
        kind="reliability",
    )
