"""Say in sentences what a battery set holds, what is asked of it, and what would change that."""

from django.utils.text import capfirst
from django.utils.translation import gettext, ngettext

from contractor.engine import battery, editions
from contractor.power.queries import Facts, Line
from contractor.web.charts.pen import say_day, say_exact, say_plain

#: The shape and the words of where a set stands, and of what a test says.
STATES = {
    "replace": ("out_of_range", "replace now"),
    "replace_at_next_test": ("nearing_limit", "replace at the next test"),
    "too_small": ("problem", "too small"),
    "old": ("overdue", "past its age"),
    "look_closer": ("needs_attention", "look closer"),
    "not_known": ("not_judged", "not known"),
    "not_judged": ("not_judged", "not judged"),
    "keep": ("in_range", "keep"),
}
CHEMISTRIES = {
    "vrla": "sealed lead-acid",
    "vented": "vented lead-acid",
    "nicad": "nickel-cadmium",
    "primary": "primary cells",
}
PARTS = {
    "charger": "charger and float voltage",
    "load": "load voltage",
    "discharge": "discharge",
    "capacity": "capacity",
    "gravity": "specific gravity",
    "ohmic": "ohmic value",
}


def say_size(sizing: battery.Sizing | None, *, edition: str) -> tuple[str, str]:
    """Say whether a set is large enough, and what to do about it."""
    if sizing is None:
        if editions.get(edition).battery is None:
            return (
                gettext("No rule for standby is held here."),
                gettext("%(edition)s has no figures on file: size it by its text.")
                % {"edition": editions.get(edition).title},
            )
        return (
            gettext("What it must carry is not known."),
            gettext("Enter the loads in standby and in alarm."),
        )
    told = {
        "asked": say_exact(sizing.required_ah),
        "size": "" if sizing.next_size is None else say_plain(sizing.next_size),
        "strings": sizing.strings,
        "held": "" if sizing.installed_ah is None else say_plain(sizing.installed_ah),
    }
    if sizing.next_size is None:
        way = gettext("No size on file is enough: put strings in parallel")
    elif sizing.strings > 1:
        way = gettext("%(size)s Ah is the next size that is enough, in each of %(strings)s strings")
    else:
        way = gettext("%(size)s Ah is the next size that is enough")
    way %= told
    if sizing.installed_ah is None:
        asked = gettext("the system asks %(asked)s Ah") % told
        unknown = gettext("What is fitted is not known. %(way)s.")
        return f"{capfirst(asked)}.", unknown % {"way": way}
    if sizing.is_enough:
        return gettext("Holds %(held)s Ah; the system asks %(asked)s Ah: enough.") % told, ""
    small = gettext("Holds %(held)s Ah; the system asks %(asked)s Ah: too small.") % told
    return small, f"{way}."


def say_deed(line: Line) -> str:
    """Say what to do about a set, before any why."""
    key = line.standing.key
    if key == "replace":
        return gettext("Replace it now.")
    if key == "replace_at_next_test":
        if not line.next_on:
            return gettext("Replace it at the next scheduled test.")
        said = gettext("Replace it at the next scheduled test, by %(day)s.")
        return said % {"day": say_day(line.next_on)}
    if key == "too_small":
        size = line.sizing.next_size if line.sizing else None
        if not size:
            return gettext("Put in a larger set.")
        return gettext("Put in %(size)s Ah batteries.") % {"size": say_plain(size)}
    if key == "old":
        return gettext("Replace it for its age.")
    if key == "look_closer":
        return gettext("Look closer, as below.")
    if key == "not_known":
        return gettext("Find out what is missing, as below.")
    if not line.next_on:
        return ""
    if line.is_late:
        said = gettext("Test it: its next test was due by %(day)s.")
    else:
        said = gettext("Nothing until its next test, by %(day)s.")
    return said % {"day": say_day(line.next_on)}


def say_sum(sizing: battery.Sizing, *, standby_a: float, alarm_a: float) -> str:
    """Write the whole sum."""
    return (
        f"({standby_a:g} A × {sizing.standby_h:g} h + {alarm_a:g} A × {sizing.alarm_min:g} min) "
        f"× {sizing.margin:g} = ({sizing.standby_ah:.2f} + {sizing.alarm_ah:.2f}) "
        f"× {sizing.margin:g} = {sizing.required_ah:.2f} Ah"
    )


def would_change(
    facts: Facts,
    sizing: battery.Sizing | None,
    *,
    edition: str,
    capacity_share: float | None = None,
) -> list[str]:
    """Say what would change the answer: its last capacity, load, voice, another margin."""
    if sizing is None or facts.standby_a is None or facts.alarm_a is None:
        return []
    said = []
    if capacity_share is not None and sizing.installed_ah is not None:
        now = capacity_share * sizing.installed_ah
        test = (
            gettext(
                "By its last capacity test it holds %(held)s Ah today, less than the %(asked)s Ah "
                "asked without the margin."
            )
            if now < sizing.bare_ah
            else gettext(
                "By its last capacity test it holds %(held)s Ah today, more than the %(asked)s Ah "
                "asked without the margin."
            )
        )
        said.append(test % {"held": say_exact(now), "asked": say_exact(sizing.bare_ah)})
    if sizing.most_standby_a is not None and sizing.is_enough:
        could = gettext("It could carry up to %(most)s A in standby at this load in alarm.")
        said.append(could % {"most": say_exact(_down(sizing.most_standby_a))})
    other = battery.required_by_edition(
        standby_a=facts.standby_a, alarm_a=facts.alarm_a, edition=edition, voice=not facts.voice
    )
    if abs(other - sizing.required_ah) > 0.005:
        way = (
            gettext("Without voice it would be asked %(asked)s Ah.")
            if facts.voice
            else gettext("With an alarm by voice it would be asked %(asked)s Ah.")
        )
        said.append(way % {"asked": say_exact(other)})
    margins = {sizing.margin}
    for key in editions.keys():  # noqa: SIM118
        held = editions.get(key)
        rule = held.battery
        if held.code != editions.get(edition).code or rule is None or rule.margin in margins:
            continue
        margins.add(rule.margin)
        there = battery.required_by_edition(
            standby_a=facts.standby_a, alarm_a=facts.alarm_a, edition=key, voice=facts.voice
        )
        asks = gettext("%(edition)s would ask %(asked)s Ah: its margin is %(margin)s %%.")
        margin = f"{100 * (rule.margin - 1):.0f}"
        said.append(asks % {"edition": held.title, "asked": say_exact(there), "margin": margin})
    return said


def _down(value: float) -> float:
    """Cut to hundredths: a load said to be carried must be carried."""
    return int(value * 100 + 1e-6) / 100


def say_make_up(facts: Facts) -> str:
    """Say what the set is made of."""
    each = facts.cells * (
        1.2 if facts.chemistry == "nicad" else 1.5 if facts.chemistry == "primary" else 2
    )
    count = facts.series * facts.parallel
    said = f"{count} × {each:g} V" if count > 1 else f"{each:g} V"
    if facts.rated_ah is not None:
        said += f" {facts.rated_ah:g} Ah"
    if facts.series > 1:
        said += ", " + gettext("%(count)s in series") % {"count": facts.series}
    if facts.parallel > 1:
        said += ", " + gettext("%(count)s strings in parallel") % {"count": facts.parallel}
    return said


def say_age(months: int | None) -> str:
    """Say an age in years and months."""
    if months is None:
        return ""
    years, rest = divmod(months, 12)
    parts = []
    if years:
        parts.append(ngettext("%(count)s year", "%(count)s years", years) % {"count": years})
    if rest or not years:
        parts.append(ngettext("%(count)s month", "%(count)s months", rest) % {"count": rest})
    return " ".join(parts)
