"""Storm and kill real browsers: `script/soak/run field_browsers 100 50` (storms, kills)."""

import os
import sys

import pytest


def main() -> int:
    """Run as many as asked for; 100 storms and 50 kills otherwise."""
    asked = [*sys.argv[1:], "100", "50"]
    os.environ["FIELD_STORMS"] = asked[0]
    os.environ["FIELD_KILLS"] = asked[1] if len(sys.argv) > 2 else "50"
    return pytest.main(["tests/e2e/test_field_storm.py", "-q", "-s", "-p", "no:cacheprovider"])


if __name__ == "__main__":
    sys.exit(main())
