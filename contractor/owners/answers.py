"""Say a building's state in a sentence that an owner can pass on."""

from contractor.due.words import say_tasks
from contractor.owners.queries import State


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def say_answer(state: State) -> str:
    """Say the gravest thing first: out of service, overdue, to be put right, or nothing."""
    if state.impairments:
        are = "is" if len(state.impairments) == 1 else "are"
        return f"{_count(len(state.impairments), 'part')} of the system {are} out of service."
    if state.overdue:
        return _say_late(state)
    if not state.detectors.total and not state.lines:
        return "No smoke detector of this building is on the list yet."
    if not state.ours:
        return "No day of the next test is known yet."
    wrong = len(state.findings) + len(state.out)
    rest = "nothing is open"
    if wrong:
        are = "is" if wrong == 1 else "are"
        rest = f"{_count(wrong, 'thing')} {are} to be put right"
    if state.unknown:
        tasks = len({line.task_words for line in state.unknown})
        return f"Nothing is overdue by what is on record, and {rest}; " + (
            f"of {_count(tasks, 'kind')} of test the record is missing."
        )
    join = ";" if wrong else ", and"
    return f"All tests are within their dates{join} {rest}."


def _say_late(state: State) -> str:
    """Say which tests are past their day, and for how many devices."""
    late = state.overdue
    tasks = list(dict.fromkeys(line.task_words for line in late))
    if len(tasks) > 1:
        return f"{len(tasks)} kinds of test are past their day: {say_tasks(tasks)}."
    devices = sum(line.devices for line in late)
    if not devices:
        return f"The {tasks[0]} of the building is past its day."
    noun = "detector" if late[0].task == "sensitivity" else "device"
    past = "is past the day of its" if devices == 1 else "are past the day of their"
    return f"{_count(devices, noun)} {past} {tasks[0]}."


def say_detectors(state: State) -> str:
    """Say where the smoke detectors stand; what is nought is left out."""
    found = state.detectors
    if not found.total:
        return ""
    said = [f"{found.in_range:,} of {_count(found.total, 'smoke detector')} are in range"]
    if found.nearing:
        are = "is nearing its" if found.nearing == 1 else "are nearing their"
        said.append(f"{found.nearing:,} {are} limit")
    if found.out:
        said.append(f"{found.out:,} {'is' if found.out == 1 else 'are'} out of range")
    if found.not_judged:
        said.append(f"{found.not_judged:,} gave no reading that could be judged")
    return f"{', '.join(said)}."
