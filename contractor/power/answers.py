"""Say in sentences what a battery set holds, what is asked of it, and what would change that."""

from contractor.engine import battery, editions
from contractor.power.queries import Facts, Line

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
                "No rule for standby is held here.",
                f"{editions.get(edition).title} has no figures on file: size it by its text.",
            )
        return "What it must carry is not known.", "Enter the loads in standby and in alarm."
    asked = f"the system asks {sizing.required_ah:.2f} Ah"
    size = sizing.next_size
    way = (
        f"{size:g} Ah is the next size that is enough"
        if size is not None
        else "No size on file is enough: put strings in parallel"
    )
    if sizing.strings > 1 and size is not None:
        way += f", in each of {sizing.strings} strings"
    if sizing.installed_ah is None:
        return f"{asked.capitalize()}.", f"What is fitted is not known. {way}."
    said = f"Holds {sizing.installed_ah:g} Ah; {asked}"
    if sizing.is_enough:
        return f"{said}: enough.", ""
    return f"{said}: too small.", f"{way}."


def say_deed(line: Line) -> str:
    """Say what to do about a set, before any why."""
    key = line.standing.key
    if key == "replace":
        return "Replace it now."
    if key == "replace_at_next_test":
        when = f", by {line.next_on:%-d %b %Y}" if line.next_on else ""
        return f"Replace it at the next scheduled test{when}."
    if key == "too_small":
        size = line.sizing.next_size if line.sizing else None
        return f"Put in {size:g} Ah batteries." if size else "Put in a larger set."
    if key == "old":
        return "Replace it for its age."
    if key == "look_closer":
        return "Look closer, as below."
    if key == "not_known":
        return "Find out what is missing, as below."
    if line.is_late:
        return f"Test it: its next test was due by {line.next_on:%-d %b %Y}."
    return f"Nothing until its next test, by {line.next_on:%-d %b %Y}." if line.next_on else ""


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
        less = "less than" if now < sizing.bare_ah else "more than"
        said.append(
            f"By its last capacity test it holds {now:.2f} Ah today, {less} the "
            f"{sizing.bare_ah:.2f} Ah asked without the margin."
        )
    if sizing.most_standby_a is not None and sizing.is_enough:
        said.append(
            f"It could carry up to {_down(sizing.most_standby_a):.2f} A in standby at this load in "
            "alarm."
        )
    other = battery.required_by_edition(
        standby_a=facts.standby_a, alarm_a=facts.alarm_a, edition=edition, voice=not facts.voice
    )
    if abs(other - sizing.required_ah) > 0.005:
        way = "Without voice" if facts.voice else "With an alarm by voice"
        said.append(f"{way} it would be asked {other:.2f} Ah.")
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
        said.append(
            f"{held.title} would ask {there:.2f} Ah: its margin is {100 * (rule.margin - 1):.0f} %."
        )
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
        said += f", {facts.series} in series"
    if facts.parallel > 1:
        said += f", {facts.parallel} strings in parallel"
    return said


def say_age(months: int | None) -> str:
    """Say an age in years and months."""
    if months is None:
        return ""
    years, rest = divmod(months, 12)
    parts = []
    if years:
        parts.append(f"{years} year{'' if years == 1 else 's'}")
    if rest or not years:
        parts.append(f"{rest} month{'' if rest == 1 else 's'}")
    return " ".join(parts)
