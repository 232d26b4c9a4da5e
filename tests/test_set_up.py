"""What must hold of the scripts that set up, check and test."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
COMMANDS = ("bootstrap", "check", "demo", "lock", "test", "vendor")


def run_pytest(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run pytest on a folder of its own, without this project's settings."""
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:django", "-p", "no:cacheprovider"]
    return subprocess.run(
        [*command, "-c", os.devnull, "--rootdir", str(folder), *arguments, str(folder)],
        cwd=ROOT,
        capture_output=True,
        text=True,
    )


class TestSkips:
    @pytest.mark.parametrize(
        ("body", "code"),
        [
            ("def test_a():\n    pass\n", 0),
            ("import pytest\ndef test_a():\n    pytest.skip('no browser')\n", 1),
            ("import pytest\npytest.skip('no browser', allow_module_level=True)\n", 1),
            ("import pytest\n@pytest.mark.xfail\ndef test_a():\n    assert 0\n", 0),
        ],
    )
    def test_a_skip_fails_the_run_in_ci_only(self, tmp_path, body, code):
        (tmp_path / "test_one.py").write_text(body)

        in_ci = run_pytest(tmp_path, "-p", "tests.skips")

        assert in_ci.returncode == code, in_ci.stdout
        assert ("which CI does not allow" in in_ci.stdout) == bool(code)
        assert run_pytest(tmp_path).returncode in {0, 5}  # 5: nothing was collected


class TestScripts:
    @pytest.mark.parametrize("name", COMMANDS)
    def test_can_be_run_and_parses(self, name):
        script = ROOT / "script" / name
        assert os.access(script, os.X_OK)
        assert script.read_text().startswith("#!/bin/sh\n# ")
        assert subprocess.run(["sh", "-n", str(script)]).returncode == 0

    def test_bootstrap_refuses_a_list_that_is_not_there(self):
        ran = subprocess.run(
            ["script/bootstrap", "nothing"], cwd=ROOT, capture_output=True, text=True
        )
        assert ran.returncode == 2
        assert "script/bootstrap runtime" in ran.stderr

    def test_demo_leaves_a_database_of_others_alone(self, tmp_path):
        ran = subprocess.run(
            [sys.executable, "script/demo.py", "--fresh", "--data", str(tmp_path / "data")],
            cwd=ROOT,
            env={**os.environ, "DATABASE_URL": "postgresql://app@db.example/contractor"},
            capture_output=True,
            text=True,
        )
        assert ran.returncode == 1
        assert "not ours to empty" in ran.stderr
        assert not (tmp_path / "data").exists()

    @pytest.mark.parametrize("name", ["runtime", "dev"])
    def test_every_requirement_has_hashes_and_no_address(self, name):
        text = (ROOT / f"requirements/{name}.txt").read_text()
        pinned = [line for line in text.splitlines() if line and line[0] not in " #"]
        assert len(pinned) > 50
        assert all("==" in line and line.endswith("\\") for line in pinned)
        assert "://" not in text
