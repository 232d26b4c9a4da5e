"""How long records are kept, on both sides of each day."""

from datetime import date, timedelta

import pytest

from contractor.engine import retention

MADE = date(2020, 3, 1)


class TestKeepUntil:
    # NFPA 72, 14.6.2.1 (2010): until the next test and one year after; IFC 901.6: three years.
    @pytest.mark.parametrize(
        ("later", "day"),
        [
            ([date(2021, 3, 1)], date(2023, 3, 1)),  # three years hold
            ([date(2022, 3, 1)], date(2023, 3, 1)),  # both alike
            ([date(2022, 3, 2)], date(2023, 3, 2)),  # a year after the next test holds
            ([], None),
        ],
    )
    def test_the_latest_of_all_floors_holds(self, later, day):
        assert retention.keep_until(kind="test", made_on=MADE, later=later).day == day

    def test_a_sensitivity_record_waits_for_two_later_tests(self):
        one, two = date(2022, 3, 1), date(2024, 3, 1)

        waiting = retention.keep_until(kind="sensitivity", made_on=MADE, later=[one])
        over = retention.keep_until(kind="sensitivity", made_on=MADE, later=[one, two])

        assert waiting.day is None
        assert over.day == date(2025, 3, 1)

    def test_may_go_only_after_its_last_day(self):
        kept = retention.keep_until(kind="test", made_on=MADE, later=[date(2021, 3, 1)])

        assert not kept.may_go(today=date(2023, 3, 1))
        assert kept.may_go(today=date(2023, 3, 1) + timedelta(days=1))

    def test_a_firm_lengthens(self):
        kept = retention.keep_until(kind="test", made_on=MADE, later=[date(2021, 3, 1)], years=10)

        assert kept.day == date(2030, 3, 1)

    def test_refuses_an_unknown_kind(self):
        with pytest.raises(ValueError, match="no kind of record"):
            retention.list_floors(kind="poem")
