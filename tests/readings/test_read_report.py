"""The command that shows what is understood of a print-out, without a database."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PRINTOUTS = ROOT / "tests" / "engine" / "data" / "printouts"


def read_report(*words):
    """Run the command as a person does who has no database and set no variable."""
    environment = {name: os.environ[name] for name in ("PATH", "LANG") if name in os.environ}
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "read_report", *map(str, words)],
        capture_output=True, text=True, check=False, env=environment, cwd=ROOT, timeout=120,
    )  # fmt: skip


class TestReadReport:
    @pytest.mark.parametrize("name", ["p1.csv", "p2.txt", "p3.xlsx", "p4.txt", "p5.tsv"])
    def test_prints_rows_as_json(self, name):
        path = PRINTOUTS / name
        expected = json.loads(path.with_suffix(".expected.json").read_text("utf-8"))["rows"]

        result = read_report(path, "--json")

        assert result.returncode == 0, result.stderr
        answer = json.loads(result.stdout)
        assert [{key: row[key] for key in expected[0]} for row in answer["rows"]] == expected
        assert answer["problems"] == []

    def test_prints_what_a_person_can_read(self):
        result = read_report(PRINTOUTS / "p2.txt")

        assert "sensitivity, fixed, cp1252, 44 rows" in result.stdout
        assert "11 February 2026 or 2 November 2026" in result.stdout

    def test_takes_the_order_of_day_and_month(self):
        result = read_report(PRINTOUTS / "p2.txt", "--json", "--date-order", "dmy")

        assert {row["taken_on"] for row in json.loads(result.stdout)["rows"]} == {"2026-02-11"}

    def test_numbers_the_rows_of_problems(self, tmp_path):
        path = tmp_path / "two.csv"
        path.write_text("Address,Type,Setting %/ft\nA1,smoke,2.4\nA2,smoke,47\nA3,smoke,2.8\n")

        answer = json.loads(read_report(path, "--json").stdout)

        assert [problem["row"] for problem in answer["problems"]] == [3]
        assert "47 %/ft cannot be" in answer["problems"][0]["sentence"]

    @pytest.mark.parametrize(
        ("content", "sentence"), [(b"", "The file is empty"), (b"%PDF-1.4", "This is a PDF")]
    )
    def test_says_in_one_sentence_why_a_file_cannot_be_read(self, tmp_path, content, sentence):
        path = tmp_path / "file"
        path.write_bytes(content)

        result = read_report(path)

        assert result.returncode == 1
        assert sentence in result.stderr
        assert "Traceback" not in result.stderr

    def test_says_that_a_file_is_not_there(self, tmp_path):
        result = read_report(tmp_path / "none.csv")

        assert result.returncode == 1
        assert "cannot be opened: No such file or directory" in result.stderr
