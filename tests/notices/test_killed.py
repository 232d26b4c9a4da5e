"""Senders that are killed: a short run of script/soak/notices.py, beside servers of its own."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_none_is_sent_twice_and_all_are_accounted_for():
    own = {"DATABASE_URL", "DATABASE_OWNER_URL", "REDIS_URL", "DATA_DIR", "EMAIL_URL"}
    ran = subprocess.run(
        [
            sys.executable,
            "script/embedded.py",
            "--throwaway",
            "--",
            sys.executable,
            "script/soak/notices.py",
            "--notices=60",
            "--kills=3",
        ],
        cwd=ROOT,
        env={k: v for k, v in os.environ.items() if k not in own} | {"PYTHONPATH": "."},
        capture_output=True,
        text=True,
        timeout=300,
    )

    assert "60 notices, 3 kills" in ran.stdout, ran.stdout + ran.stderr
    assert "sent twice 0, said sent and not taken 0, unaccounted 0" in ran.stdout
    assert ran.returncode == 0
