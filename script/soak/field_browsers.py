"""Storm and kill real browsers: `script/soak/run field_browsers 100 50 [chance]` (storms, kills).

Another number for the chance makes other storms, so that a long run may be cut into pieces.
"""

import os
import sys

import pytest


def main() -> int:
    """Run as many as asked for; 100 storms and 50 kills otherwise."""
    asked = sys.argv[1:]
    asked += ["100", "50", "0"][len(asked) :]
    os.environ["FIELD_STORMS"], os.environ["FIELD_KILLS"], os.environ["FIELD_CHANCE"] = asked[:3]
    return pytest.main(["tests/e2e/test_field_storm.py", "-q", "-s", "-p", "no:cacheprovider"])


if __name__ == "__main__":
    sys.exit(main())
