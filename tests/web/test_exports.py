"""Lists as CSV: nothing in them is taken for a formula."""

import csv
import io

import pytest

from contractor.web.exports import write_csv


@pytest.mark.parametrize(
    ("cell", "kept"),
    [
        ("", ""),
        (None, ""),
        ("2.5", "2.5"),
        (-0.4, "-0.4"),
        ("1-001", "1-001"),
        ("=1+1", "'=1+1"),
        ("-0.4", "'-0.4"),
        ("@x", "'@x"),
        ("\tx", "'\tx"),
    ],
)
def test_a_formula_stays_text(cell, kept):
    (_, row) = csv.reader(io.StringIO(write_csv(["what"], [[cell, "end"]])))

    assert row == [kept, "end"]
