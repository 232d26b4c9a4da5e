"""Two runs share the suite: each test is run, and by one of them."""

from itertools import zip_longest
from types import SimpleNamespace

from tests.sharing import _claimed


def test_each_is_run_once_also_where_a_files_tests_lie_apart(tmp_path):
    names = [f"tests/{file}.py::test_{n}" for n in range(3) for file in ("a", "e2e/b", "c", "d")]
    items = [SimpleNamespace(nodeid=name) for name in names]
    front, back = _claimed(items, tmp_path), _claimed(items, tmp_path)

    turns = [[one for one in pair if one] for pair in zip_longest(front, back)]

    assert sorted(one.nodeid for turn in turns for one in turn) == sorted(names)
    assert turns[0][0].nodeid == "tests/e2e/b.py::test_0"
    assert all(len(turn) == 2 for turn in turns)  # neither ran out while the other had work
