"""Damaged print-outs end in rows of the file, or in one sentence. script/soak runs more."""

import random
from pathlib import Path

import pytest

from tests.engine import mutations

PRINTOUTS = Path(__file__).parent / "data" / "printouts"
FILES = [p for p in sorted(PRINTOUTS.iterdir()) if p.suffix != ".json"]
TEXTS = [p.read_bytes() for p in FILES if p.suffix not in (".xlsx", ".ods")]
WORKBOOKS = [p.read_bytes() for p in FILES if p.suffix in (".xlsx", ".ods")]


class TestDamaged:
    @pytest.mark.parametrize("seed", range(10))
    def test_reads_text_or_says_why_not(self, seed):
        chance = random.Random(seed)

        outcomes = [
            mutations.check(mutations.damaged_text(chance.choice(TEXTS), chance)) for _ in range(30)
        ]

        assert {"read", "refused"} == set(outcomes)

    @pytest.mark.parametrize("seed", range(4))
    def test_reads_workbooks_or_says_why_not(self, seed):
        chance = random.Random(seed)

        outcomes = [
            mutations.check(mutations.damaged_workbook(chance.choice(WORKBOOKS), chance))
            for _ in range(20)
        ]

        assert {"read", "refused"} == set(outcomes)
