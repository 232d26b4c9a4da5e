"""Say a building's state in a sentence that an owner can pass on."""

from contractor.owners.queries import State

TASKS = {"sensitivity": "sensitivity test"}


def _count(number: int, noun: str) -> str:
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def say_answer(state: State) -> str:
    """Say the gravest thing first: out of service, overdue, to be put right, or nothing."""
    if state.impairments:
        are = "is" if len(state.impairments) == 1 else "are"
        return f"{_count(len(state.impairments), 'part')} of the system {are} out of service."
    late = sum(window.devices for window in state.overdue)
    if late:
        past = "is past the day of its" if late == 1 else "are past the day of their"
        return f"{_count(late, 'detector')} {past} sensitivity test."
    if not state.detectors.total:
        return "No smoke detector of this building is on the list yet."
    if not state.windows:
        return "No day of the next sensitivity test is known yet."
    wrong = len(state.findings) + len(state.out)
    if wrong:
        are = "is" if wrong == 1 else "are"
        things = _count(wrong, "thing")
        return f"All sensitivity tests are within their dates; {things} {are} to be put right."
    return "All sensitivity tests are within their dates, and nothing is open."


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
