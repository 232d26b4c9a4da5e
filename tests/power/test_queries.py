"""What other areas read of battery sets."""

from datetime import date

import pytest

from contractor.power import queries
from contractor.power.models import BatteryTestWithdrawal
from tests import factories

pytestmark = pytest.mark.django_db


def part(name, state="keep", *, counts=True):
    return {"part": name, "state": state, "reason": "", "note": "", "counts": counts}


class TestListTests:
    def test_gives_one_for_each_thing_measured_the_oldest_first(self, building, battery):
        factories.BatteryTestFactory(device=battery, tested_on=date(2026, 3, 11))
        factories.BatteryTestFactory(
            device=battery,
            tested_on=date(2025, 9, 2),
            parts=[part("charger"), part("capacity", "replace_at_next_test"), part("ohmic")],
        )

        assert queries.list_tests(building=building) == {
            battery.pk: [
                (date(2025, 9, 2), "charger", "keep"),
                (date(2025, 9, 2), "capacity", "replace_at_next_test"),
                (date(2025, 9, 2), "ohmic", "keep"),
                (date(2026, 3, 11), "load", "keep"),
            ]
        }

    def test_leaves_out_what_does_not_count(self, building, battery, office, now):
        factories.BatteryTestFactory(device=battery, parts=[part("capacity", counts=False)])
        withdrawn = factories.BatteryTestFactory(device=battery)
        BatteryTestWithdrawal.objects.create(
            firm=withdrawn.firm, test=withdrawn, reason="Wrong set.", at=now, by=office
        )

        assert queries.list_tests(building=building) == {}

    def test_leaves_out_other_buildings(self, firm, battery):
        factories.BatteryTestFactory(device=battery)
        elsewhere = factories.BuildingFactory(firm=firm, name="Teasel Street School")

        assert queries.list_tests(building=elsewhere) == {}
        assert queries.list_facts(building=elsewhere) == {}


class TestListFacts:
    def test_knows_the_usual_chemistry_before_anybody_has_said_more(self, building, battery):
        facts = queries.list_facts(building=building)[battery.pk]

        assert facts.chemistry == "vrla"
        assert not facts.is_described
        assert facts.installed_on == date(2019, 3, 12)
        assert facts.installed_ah is None

    def test_follows_what_the_register_says_it_is(self, building, battery):
        battery.component = "battery_nicad"
        battery.save(update_fields=["component"])

        assert queries.list_facts(building=building)[battery.pk].chemistry == "nicad"

    def test_adds_up_strings_in_parallel_not_batteries_in_series(self, building, battery):
        # A published study guide: two 12 V 18 Ah in series are 24 V, still 18 Ah.
        row = factories.BatterySetFactory(device=battery)
        assert queries.list_facts(building=building)[battery.pk].installed_ah == 18.0

        row.parallel = 2
        row.save(update_fields=["parallel"])
        assert queries.list_facts(building=building)[battery.pk].installed_ah == 36.0

    def test_asks_no_more_with_more_sets(
        self, building, battery, system, django_assert_num_queries
    ):
        for number in range(2, 8):
            factories.BatterySetFactory(
                device=factories.DeviceFactory(
                    system=system, kind="battery", product=None, address=f"B{number}"
                )
            )

        with django_assert_num_queries(2):
            assert len(queries.list_facts(building=building)) == 7
