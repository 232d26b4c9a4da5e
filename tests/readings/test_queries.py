"""Which readings count as a sensitivity test of their day."""

from datetime import date

import pytest

from contractor.readings import queries, services
from tests import factories

pytestmark = pytest.mark.django_db
DAY = date(2026, 11, 20)


@pytest.fixture
def tests_of(detector, building):
    """Write the readings of one day, in their order, and list its tests."""

    def tests_of(*readings):
        for stage, is_test, verdict in readings:
            factories.ReadingFactory(
                device=detector, taken_on=DAY, stage=stage, is_test=is_test, verdict=verdict
            )
        return queries.list_sensitivity_tests(building=building).get(detector.pk, [])

    return tests_of


@pytest.mark.parametrize(
    ("readings", "test"),
    [
        ([("as_found", True, "in_range")], (DAY, True, None)),
        ([("as_found", True, "out_of_range"), ("as_left", True, "in_range")], (DAY, False, True)),
        # Good readings that are no test do not become one beside an as-left test.
        ([("as_found", False, "in_range"), ("as_left", True, "in_range")], (DAY, None, True)),
        # A failure counts whoever saw it.
        ([("as_found", False, "out_of_range"), ("as_left", True, "in_range")], (DAY, False, True)),
        ([("as_found", True, "in_range"), ("as_found", False, "out_of_range")], (DAY, False, None)),
        ([("as_found", False, "in_range"), ("as_found", True, "not_judged")], (DAY, None, None)),
        ([("as_found", False, "out_of_range")], (DAY, False, None)),
    ],
)
def test_a_day_is_what_its_tests_and_failures_say(tests_of, readings, test):
    assert tests_of(*readings) == [test]


def test_readings_only_are_no_test(tests_of):
    assert tests_of(("as_found", False, "in_range"), ("as_left", False, "in_range")) == []


def test_where_a_detector_stands_gives_the_reason_of_who_judged_otherwise(detector, office, now):
    services.record_reading(
        device=detector,
        member=office,
        now=now,
        taken_on=DAY,
        said={"measured": "3.8"},
        override_state="in_range",
        override_reason="Instrument read high; read again at 3.2.",
    )
    detector.refresh_from_db()

    assert detector.latest_verdict == "in_range"
    assert detector.latest_reason == "Instrument read high; read again at 3.2."


def test_where_a_detector_stands_gives_the_engines_reason_otherwise(detector, office, now):
    services.record_reading(
        device=detector, member=office, now=now, taken_on=DAY, said={"measured": "3.8"}
    )
    detector.refresh_from_db()

    assert detector.latest_reason.startswith("Alarms at 3.8 %/ft; marked 1.0 to 3.5 %/ft")
