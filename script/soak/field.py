"""Run random schedules of tablets against PostgreSQL: `script/soak/run field 10000`.

Each schedule has one to three tablets, lost requests and answers, retries in another order, crashes
and a server that is restored. It stops at the first entry that is lost or doubled.
"""

import os
import sys

import pytest


def main() -> int:
    """Run as many as asked for; 10,000 otherwise."""
    count = sys.argv[1] if len(sys.argv) > 1 else "10000"
    os.environ["FIELD_SCHEDULES"] = count
    return pytest.main(["tests/field/test_schedules.py", "-q", "-p", "no:cacheprovider"])


if __name__ == "__main__":
    sys.exit(main())
