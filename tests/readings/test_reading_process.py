"""Reading in a process of its own: the same result, and a sentence where a limit is passed."""

import random
import subprocess
import sys
from pathlib import Path

import pytest

from contractor.engine import layouts
from contractor.readings import reading_process
from tests.engine import old_workbook

PRINTOUTS = Path(__file__).parents[1] / "engine" / "data" / "printouts"


class TestReadIsolated:
    @pytest.mark.parametrize(
        "name", ["p1.csv", "p2.txt", "p3.xlsx", "i04-two-sheets.xlsx", "m03-two-lines.txt"]
    )
    def test_gives_what_reading_here_gives(self, name):
        data = (PRINTOUTS / name).read_bytes()

        assert reading_process.read_isolated(data) == layouts.read(data)

    def test_passes_what_is_known_on(self):
        data = (PRINTOUTS / "p2.txt").read_bytes()
        known = {"date_order": "dmy", "mapping": {"level": ""}, "known_addresses": ["01-001"]}

        printout = reading_process.read_isolated(data, **known)

        assert printout == layouts.read(data, **known)
        assert printout.rows[0].address == "01-001"

    def test_gives_the_sentence_of_a_file_that_cannot_be_read(self):
        with pytest.raises(layouts.Unreadable, match="a PDF"):
            reading_process.read_isolated(b"%PDF-1.7 and more")

    def test_refuses_a_file_too_large_before_any_process_starts(self, monkeypatch):
        monkeypatch.setattr(subprocess, "Popen", lambda *a, **k: pytest.fail("a process started"))

        with pytest.raises(layouts.Unreadable, match="The file has 60 MB; at most 20 MB"):
            reading_process.read_isolated(bytes(60 * 2**20))

    def test_stops_reading_that_takes_too_much_memory(self):
        lines = "\n".join(
            f"L{n},Aisle {n},smoke,2.4,{n % 7},{random.random()}" for n in range(45_000)
        )
        data = b"Address,Label,Type,Setting %/ft,Level,Drift\n" + lines.encode()

        with pytest.raises(layouts.Unreadable, match="more memory than a print-out needs"):
            reading_process.read_isolated(data, address_space_bytes=8 * 2**20)

    def test_stops_an_old_workbook_that_would_unfold_to_millions_of_cells(self):
        rows = [["Address", "Type", "Setting %/ft"], ["A1", "smoke", 2.4], ["A2", "smoke", 2.4]]
        far = [*rows, *([[""]] * 65_500), [""] * 255 + ["x"]]

        with pytest.raises(layouts.Unreadable):
            reading_process.read_isolated(old_workbook.workbook(far), address_space_bytes=2**28)

    def test_stops_reading_that_takes_too_much_processor_time(self, monkeypatch):
        monkeypatch.setattr(reading_process, "_COMMAND", [sys.executable, "-c", SPIN])

        with pytest.raises(layouts.Unreadable, match="longer than 1 seconds"):
            reading_process.read_isolated(b"x", cpu_seconds=1)

    def test_stops_reading_that_only_waits(self, monkeypatch):
        monkeypatch.setattr(
            reading_process, "_COMMAND", [sys.executable, "-c", "import time; time.sleep(60)"]
        )

        with pytest.raises(layouts.Unreadable, match="longer than 0 seconds"):
            reading_process.read_isolated(b"x", wall_seconds=0.5)

    @pytest.mark.parametrize(
        "code", ["import os; os.abort()", "print('not json')", "raise SystemExit(3)"]
    )
    def test_outlives_a_reader_that_ends_without_a_result(self, monkeypatch, code):
        monkeypatch.setattr(reading_process, "_COMMAND", [sys.executable, "-c", code])

        with pytest.raises(layouts.Unreadable, match=r"Export the print-out as CSV"):
            reading_process.read_isolated(b"x")

    def test_hands_no_secret_to_the_reader(self, monkeypatch):
        monkeypatch.setenv("SECRET_KEY", "invented")
        monkeypatch.setenv("DATABASE_URL", "invented")

        assert not {"SECRET_KEY", "DATABASE_URL"} & set(reading_process._environment())


SPIN = """
import json, sys
from contractor.readings import reading_process
order = json.loads(sys.stdin.buffer.readline())
limits = {name: order[name] for name in ("cpu_seconds", "address_space_bytes")}
reading_process._limit(**limits)
while True: pass
"""
