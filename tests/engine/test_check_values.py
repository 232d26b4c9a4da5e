"""Thirty values that the trade's rules must give, each with where it comes from.

Confirmed: a public page restates rule and figure. Arithmetic: follows from the other figures.
Reading: the code is silent, and this is how we read it. From memory: no public page was found.
"""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest

from contractor.engine import alarms, battery, deadlines, editions, intervals, life, obscuration
from contractor.engine.sensitivity import judge
from contractor.engine.sensitivity_interval import sensitivity_due

CODE = "nfpa72-2010"
LOG = date(2015, 1, 1)


def due(installed_on, *tests, as_of=date(2026, 11, 25), **said):
    return sensitivity_due(
        installed_on=installed_on,
        tests=[(day, found, left) for day, found, left in tests],
        nuisance_log_since=said.pop("log", LOG),
        as_of=as_of,
        edition=CODE,
        **said,
    )


def test_1_first_test_within_a_year():
    # Confirmed: federal survey reports of 2013 and 2024.
    found = due(date(2023, 3, 15), as_of=date(2023, 6, 1))
    assert (found.due_on, found.basis) == (date(2024, 3, 15), "first_year")


def test_2_a_leap_day_clamps():
    # Reading: the end of a short month is its end.
    assert due(date(2020, 2, 29), as_of=date(2020, 6, 1)).due_on == date(2021, 2, 28)


def test_3_alternate_year_from_the_last_test():
    # Confirmed (alternate year); from the last test is our reading.
    found = due(date(2023, 3, 15), (date(2024, 2, 10), True, None))
    assert (found.due_on, found.basis) == (date(2026, 2, 10), "alternate_year")


T1, T2 = (date(2021, 2, 10), True, None), (date(2023, 2, 1), True, None)


def test_4_two_in_range_and_a_record_may_go_to_five_years():
    # Confirmed: federal survey reports; a maximum of five years.
    found = due(date(2020, 2, 15), T1, T2)
    assert (found.due_on, found.extended) == (date(2028, 2, 1), True)


def test_5_one_test_earns_nothing():
    # Confirmed: after the second required test.
    found = due(date(2020, 2, 15), T1)
    assert (found.due_on, found.extended) == (date(2023, 2, 10), False)


def test_6_found_out_of_range_starts_again():
    # Reading: the as-found result decides.
    assert judge(measured=3.9, marked_low=1.0, marked_high=3.5).state == "out_of_range"
    assert judge(measured=2.6, marked_low=1.0, marked_high=3.5).state == "in_range"
    found = due(date(2020, 2, 15), T1, (date(2023, 2, 1), False, True))
    assert (found.due_on, found.basis) == (date(2025, 2, 1), "restart")
    assert found.counted_tests == ()


def _zone(before: int, now: int):
    """Two tests in range in 2023 and 2025; so many alarms in early 2024, so many in mid-2025."""
    return due(
        date(2022, 2, 15),
        (date(2023, 2, 10), True, None),
        (date(2025, 2, 1), True, None),
        as_of=date(2026, 1, 15),
        nuisance_alarms=[
            *(date(2024, 3, 1 + n) for n in range(before)),
            *(date(2025, 8, 1 + n) for n in range(now)),
        ],
    )


def test_7_a_rise_in_the_zone_makes_it_due():
    # From memory: any increase over the previous year.
    assert _zone(2, 3).basis == "nuisance_increase"


def test_8_any_rise_and_no_rise():
    # From memory, and our reading of "any".
    assert _zone(2, 2).basis == "extended"
    assert _zone(0, 1).basis == "nuisance_increase"


def test_9_a_replaced_detector_has_a_clock_of_its_own():
    # Reading, with a survey consultant.
    assert due(date(2025, 6, 1), as_of=date(2025, 7, 1)).due_on == date(2026, 6, 1)
    assert due(date(2020, 2, 15), T1, T2, as_of=date(2025, 7, 1)).due_on == date(2028, 2, 1)


def test_10_unmarked_is_judged_by_four_percent():
    # Confirmed (4 percent); that only the upper end is known is our reading.
    assert judge(measured=4.0).state == "in_range"
    assert judge(measured=4.1).state == "out_of_range"


@pytest.mark.parametrize(
    ("measured", "state"),
    [(0.9, "out_of_range"), (1.0, "in_range"), (3.5, "in_range"), (3.6, "out_of_range")],
)
def test_11_marked_limits_are_inclusive(measured, state):
    # Reading; that too sensitive fails as well: a course on failed tests.
    assert judge(measured=measured, marked_low=1.0, marked_high=3.5).state == state


def test_12_an_unmeasured_aerosol_tests_no_sensitivity():
    # Confirmed: a contractor's page and a frequency guide.
    edition = editions.get("nfpa72-2013")
    assert edition.refusal("unmeasured_aerosol")
    assert not edition.refusal("unmeasured_aerosol", part="functional")


@pytest.mark.parametrize(
    ("number", "value", "unit", "to", "expected", "within"),
    [
        (13, 1.0, "%/ft", "%/m", 3.2436, 5e-5),
        (13, 1.0, "%/ft", "OD/m", 0.014320, 5e-7),
        (13, 1.0, "%/ft", "dB/m", 0.1432, 5e-5),
        (14, 4.0, "%/ft", "%/m", 12.535, 5e-4),
        (14, 4.0, "%/ft", "OD/m", 0.058165, 5e-7),
        (14, 4.0, "%/ft", "dB/m", 0.5817, 5e-5),
        (15, 0.5, "%/ft", "%/m", 1.631, 5e-4),
        (15, 10.0, "%/ft", "%/m", 29.225, 5e-4),
        (16, 0.15, "dB/m", "%/m", 3.395, 5e-4),
        (16, 0.15, "dB/m", "%/ft", 1.047, 5e-4),
        (17, 3.28, "%/m", "%/ft", 1.0114, 5e-5),
    ],
)
def test_13_to_17_units(number, value, unit, to, expected, within):
    # Arithmetic: Bouguer's law.
    assert obscuration.convert(value, unit, to) == pytest.approx(expected, abs=within)


def test_18_over_a_beams_path():
    # Confirmed: the NIST guide to a fire simulator.
    assert obscuration.over_path(0.626, "1/m", path_m=10) == pytest.approx(99.81, abs=0.005)


@pytest.mark.parametrize(("feet", "expected"), [(50, 22.17), (100, 39.42)])
def test_19_over_a_long_path(feet, expected):
    # Arithmetic.
    found = obscuration.over_path(0.5, "%/ft", path_m=feet * 0.3048)
    assert found == pytest.approx(expected, abs=0.005)


def test_20_annual():
    # Confirmed: 9 to 15 months, 3.3.106 (2010), trade press.
    found = intervals.window(last_done=date(2024, 1, 15), frequency="annual")
    assert (found.earliest, found.target, found.latest) == (
        date(2024, 10, 15),
        date(2025, 1, 15),
        date(2025, 4, 15),
    )


def test_21_semiannual_and_quarterly():
    # Confirmed: 4 to 8 and 2 to 4 months, the same.
    half = intervals.window(last_done=date(2024, 1, 15), frequency="semiannual")
    quarter = intervals.window(last_done=date(2024, 1, 15), frequency="quarterly")
    assert (half.earliest, half.latest) == (date(2024, 5, 15), date(2024, 9, 15))
    assert (quarter.earliest, quarter.latest) == (date(2024, 3, 15), date(2024, 5, 15))


def test_22_the_accreditors_annual():
    # Confirmed: 30 days more or less, ASHE.
    found = intervals.window(last_done=date(2024, 1, 15), frequency="annual", rule="accreditor")
    assert (found.earliest, found.latest) == (date(2024, 12, 16), date(2025, 2, 14))


@pytest.mark.parametrize(
    ("number", "standby_a", "alarm_a", "margin", "expected"),
    [
        (23, 0.42, 3.8, 1.0, 10.397),
        (23, 0.42, 3.8, 1.2, 12.48),
        (23, 0.42, 3.8, 1.25, 12.996),
        (24, 0.25, 1.5, 1.0, 6.125),
        (24, 0.25, 1.5, 1.2, 7.35),
        (24, 0.25, 1.5, 1.25, 7.656),
    ],
)
def test_23_24_standby(number, standby_a, alarm_a, margin, expected):
    # Confirmed: two published worked examples; the margins, arithmetic.
    found = battery.required_ah(
        standby_a=standby_a, standby_h=24, alarm_a=alarm_a, alarm_min=5, margin=margin
    )
    assert found == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(
    ("share", "state"),
    [(0.79, "replace"), (0.80, "replace"), (0.84, "replace_at_next_test"), (0.85, "keep")],
)
def test_25_capacity(share, state):
    # Confirmed: a trade forum restating the 2019 table.
    assert battery.judge(edition="nfpa72-2019", capacity_share=share).state == state


def test_26_restorable_heat():
    # Arithmetic on: two a year, all within five years (study guides).
    assert life.heat_sample_size(heads=14, edition="nfpa72-2013") == 3
    assert life.heat_sample_size(heads=6, edition="nfpa72-2013") == 2


def test_27_nonrestorable_heat():
    # Confirmed by a laboratory; the rounding up is the careful reading.
    found = life.nonrestorable_heat_due(
        installed_on=date(2010, 5, 1), as_of=date(2024, 1, 1), edition="nfpa72-2013"
    )
    assert found.due_on == date(2025, 5, 1)
    assert life.lab_sample_size(heads=250, edition="nfpa72-2013") == 6


@pytest.mark.parametrize(("unaffected", "expected"), [(30, 3), (480, 48), (900, 50)])
def test_28_software(unaffected, expected):
    # Confirmed: a forum restating 14.4.2.4 (2013).
    assert life.software_sample_size(unaffected=unaffected, edition="nfpa72-2013") == expected


@pytest.mark.parametrize(
    ("severity", "written_by", "by_word"),
    [
        ("deficiency", date(2024, 6, 10), False),  # yellow label
        ("critical_deficiency", date(2024, 6, 6), False),  # red label, fault
        ("impairment", date(2024, 6, 4), True),  # red label, inoperable
    ],
)
def test_29_notice_in_texas(severity, written_by, by_word):
    # Confirmed: 28 TAC 34.623 and 34.624.
    found = deadlines.list_deadlines(
        places=["texas"],
        severity=severity,
        found_at=datetime(2024, 6, 3, 9, 0, tzinfo=ZoneInfo("America/Chicago")),
    )
    assert [one.on for one in found if one.duty.how == "in writing"] == [written_by]
    assert any(one.duty.unit == "at once" for one in found) is by_word


def test_30_too_many_alarms():
    # Confirmed: BS 5839-1 in trade press; NFPA 1, 13.7.1.5.4, quoted by a fire department.
    assert alarms.investigation(count=3, detectors=60, edition="bs5839-1").due
    five = [date(2026, month, 3) for month in (2, 4, 6, 8, 10)]
    assert alarms.chronic_since(five, as_of=date(2026, 11, 1), edition="nfpa72-2019")
    assert not alarms.chronic_since(five[1:], as_of=date(2026, 11, 1), edition="nfpa72-2019")
