"""Draw how much of its compensation each detector of a fleet has used."""

from dataclasses import dataclass

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from contractor.web.charts.pen import Scale, drawing, element, say_count


@dataclass(frozen=True, kw_only=True)
class Usage:
    """Detectors counted by the share of the allowance used.

    `counts[i]` holds shares from `i * step` up to the next step [% used]; the last one holds all
    beyond. The three totals are said above the bars and come from the verdicts.
    """

    counts: tuple[int, ...]
    step: float = 2.5
    warning: float = 75.0
    in_range: int = 0
    nearing: int = 0
    out: int = 0


def draw_usage(usage: Usage, *, width: float | None = None) -> SafeString:
    """Draw the bars; from the warning on they are ochre, from the limit on carmine."""
    top, base = 26.0, 116.0
    end = max(len(usage.counts) * usage.step, 110.0)
    scale = Scale(low=0, high=end, width=width)
    largest = max(usage.counts, default=0) or 1
    parts = []
    for place, count in enumerate(usage.counts):
        start = place * usage.step
        tone = "carmine" if start >= 100 else "ochre" if start >= usage.warning else "ink"
        if not count:
            continue
        tall = max(1.5, (base - top - 8) * count / largest)
        parts.append(
            scale.band(
                start,
                start + usage.step,
                base - tall,
                tall,
                class_=f"f-{tone} s-paper",
                stroke_width=2,
            )
        )
    parts.append(
        element("line", x1=0, x2=scale.place(1), y1=base, y2=base, class_="s-ink", stroke_width=1.5)
    )
    for tick in range(int(end / 2.5) + 1):
        at = tick * 2.5
        large = at % 10 == 0
        parts.append(
            scale.upright(at, base, base + (8 if large else 4), class_="s-post", stroke_width=1)
        )
        if large and at < end:  # the unit stands at the end
            parts.append(
                scale.words(
                    at,
                    base + 22,
                    f"{at:.0f}",
                    anchor="start" if at == 0 else "middle",
                    wide=at % 50 != 0,
                )
            )
    parts.append(scale.words(end, base + 22, gettext("% used"), anchor="end", size=12, wide=True))
    parts.append(
        scale.upright(
            usage.warning, 6, base, class_="s-ochre", stroke_width=1.6, stroke_dasharray="4 3"
        )
    )
    parts.append(scale.upright(100, 6, base, class_="s-carmine", stroke_width=3))
    parts.append(
        scale.words(
            usage.warning,
            16,
            gettext("%(count)s in range") % {"count": say_count(usage.in_range)},
            tone="ink",
            bold=True,
            anchor="end",
            dx=-7,
        )
    )
    nearing = {"tone": "ochre" if usage.nearing else "ink2"}
    out = {"tone": "carmine" if usage.out else "ink2"}
    parts.append(
        scale.words(
            usage.warning,
            16,
            say_count(usage.nearing),
            bold=True,
            dx=7,
            more=" " + gettext("nearing"),
            **nearing,
        )
    )
    beyond = gettext("%(count)s out") % {"count": say_count(usage.out)}
    parts.append(scale.words(100, 16, beyond, bold=True, dx=7, tier="wide", **out))
    if width is None:
        parts.append(
            scale.words(100, 16, say_count(usage.out), bold=True, dx=5, tier="narrow", **out)
        )
    title = gettext(
        "Allowance used: %(in_range)s in range, %(nearing)s nearing from %(warning)s %%, "
        "%(out)s out from 100 %%."
    ) % {
        "in_range": say_count(usage.in_range),
        "nearing": say_count(usage.nearing),
        "warning": f"{usage.warning:g}",
        "out": say_count(usage.out),
    }
    return drawing(parts, title=title, height=base + 28, width=width, kind="usage")
