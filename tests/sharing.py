"""Let two runs of the suite share its files, each beside servers of its own.

script/test starts both and names a folder in TESTS_SHARED_IN. Both collect everything; one walks
the files from the front, where the browser's are, the other from the back. Whoever makes a file's
mark in that folder runs that file, so they end at about the same time, wherever they meet.
"""

import os
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

FRONT = ("tests/e2e", "tests/web/test_gallery.py", "tests/test_compose.py")


def _file(item: pytest.Item) -> str:
    return item.nodeid.partition("::")[0]


def _is_ours(marks: Path, name: str) -> bool:
    try:
        (marks / name.replace("/", "!")).touch(exist_ok=False)
    except FileExistsError:
        return False
    return True


def _claimed(items: list[pytest.Item], marks: Path) -> Iterator[pytest.Item]:
    # By name, not by neighbours: pytest moves tests of one file apart where they share fixtures.
    files = defaultdict(list)
    for item in items:
        files[_file(item)].append(item)
    names = sorted(files, key=lambda name: not name.startswith(FRONT))
    if not _is_ours(marks, "the front"):
        names.reverse()
    for name in names:
        if _is_ours(marks, name):
            yield from files[name]


@pytest.hookimpl(tryfirst=True)
def pytest_runtestloop(session: pytest.Session) -> bool | None:
    """Run the files that nobody else has claimed; one is claimed when the one before it ends."""
    if session.testsfailed or session.config.option.collectonly:
        return None  # pytest's own loop says what is wrong
    claimed = _claimed(session.items, Path(os.environ["TESTS_SHARED_IN"]))
    item = next(claimed, None)
    while item is not None:
        # Looked up before the item runs: what both need is kept up between them.
        following = next(claimed, None)
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if session.shouldfail:
            raise session.Failed(session.shouldfail)
        if session.shouldstop:
            raise session.Interrupted(session.shouldstop)
        item = following
    return True
