"""Say a building's state in a sentence that an owner can pass on."""

from django.utils.translation import gettext, ngettext

from contractor.due.words import say_tasks
from contractor.owners.queries import State
from contractor.web.charts.pen import say_count


def say_answer(state: State) -> str:
    """Say the gravest thing first: out of service, overdue, to be put right, or nothing."""
    if state.impairments:
        many = len(state.impairments)
        return ngettext(
            "%(count)s part of the system is out of service.",
            "%(count)s parts of the system are out of service.",
            many,
        ) % {"count": say_count(many)}
    if state.overdue:
        return _say_late(state)
    if not state.detectors.total and not state.lines:
        return gettext("No smoke detector of this building is on the list yet.")
    if not state.ours:
        return gettext("No day of the next test is known yet.")
    wrong = len(state.findings) + len(state.out)
    still_open = gettext("nothing is open")
    if wrong:
        still_open = ngettext(
            "%(count)s thing is to be put right", "%(count)s things are to be put right", wrong
        ) % {"count": say_count(wrong)}
    if state.unknown:
        tasks = len({line.task_words for line in state.unknown})
        return ngettext(
            "Nothing is overdue by what is on record, and %(open)s; of %(count)s kind of test the "
            "record is missing.",
            "Nothing is overdue by what is on record, and %(open)s; of %(count)s kinds of test the "
            "record is missing.",
            tasks,
        ) % {"open": still_open, "count": say_count(tasks)}
    if wrong:
        return gettext("All tests are within their dates; %(open)s.") % {"open": still_open}
    return gettext("All tests are within their dates, and %(open)s.") % {"open": still_open}


def _say_late(state: State) -> str:
    """Say which tests are past their day, and for how many devices."""
    late = state.overdue
    tasks = list(dict.fromkeys(line.task_words for line in late))
    if len(tasks) > 1:
        return gettext("%(count)s kinds of test are past their day: %(tasks)s.") % {
            "count": len(tasks),
            "tasks": say_tasks(tasks),
        }
    devices = sum(line.devices for line in late)
    if not devices:
        said = gettext("The %(task)s of the building is past its day.")
    elif late[0].task == "sensitivity":
        said = ngettext(
            "%(count)s detector is past the day of its %(task)s.",
            "%(count)s detectors are past the day of their %(task)s.",
            devices,
        )
    else:
        said = ngettext(
            "%(count)s device is past the day of its %(task)s.",
            "%(count)s devices are past the day of their %(task)s.",
            devices,
        )
    return said % {"count": say_count(devices), "task": gettext(tasks[0])}


def say_detectors(state: State) -> str:
    """Say where the smoke detectors stand; what is nought is left out."""
    found = state.detectors
    if not found.total:
        return ""
    of = ngettext(
        "%(in_range)s of %(count)s smoke detector are in range",
        "%(in_range)s of %(count)s smoke detectors are in range",
        found.total,
    )
    said = [of % {"in_range": say_count(found.in_range), "count": say_count(found.total)}]
    if found.nearing:
        near = ngettext(
            "%(count)s is nearing its limit", "%(count)s are nearing their limit", found.nearing
        )
        said.append(near % {"count": say_count(found.nearing)})
    if found.out:
        out = ngettext("%(count)s is out of range", "%(count)s are out of range", found.out)
        said.append(out % {"count": say_count(found.out)})
    if found.not_judged:
        none = gettext("%(count)s gave no reading that could be judged")
        said.append(none % {"count": say_count(found.not_judged)})
    return f"{', '.join(said)}."
