"""Run random schedules of tablets against PostgreSQL: `script/soak/run field 10000 [first]`.

Each schedule has one to three tablets, lost requests and answers, retries in another order, crashes
and a server that is restored. It stops at the first entry that is lost or doubled. The number of a
schedule is its chance: a run that was stopped goes on at `first`, and two may share the work.
"""

import os
import sys

import pytest


def main() -> int:
    """Run as many as asked for; 10,000 otherwise."""
    count = sys.argv[1] if len(sys.argv) > 1 else "10000"
    os.environ["FIELD_SCHEDULES"] = count
    os.environ["FIELD_FIRST"] = sys.argv[2] if len(sys.argv) > 2 else "0"
    return pytest.main(["tests/field/test_schedules.py", "-v", "-x", "-p", "no:cacheprovider"])


if __name__ == "__main__":
    sys.exit(main())
