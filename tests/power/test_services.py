"""What a person says of battery sets, and what is made of it."""

from datetime import UTC, date, datetime

import pytest

from contractor.findings.models import Finding
from contractor.power import queries, services
from contractor.power.models import BatterySet, BatteryTest
from contractor.power.services import BatteryFacts
from contractor.tenancy.models import AuditLine
from tests import factories

pytestmark = pytest.mark.django_db

FACTS = BatteryFacts(
    chemistry="vrla",
    manufactured_on=date(2019, 1, 17),
    installed_on=date(2019, 3, 12),
    rated_ah=18.0,
    standby_a=0.42,
    alarm_a=3.8,
)


def with_(**changed):
    return BatteryFacts(**FACTS.__dict__ | changed)


@pytest.fixture
def sent(monkeypatch):
    """What is queued."""
    sent = []
    monkeypatch.setattr(
        "contractor.celery.app.send_task",
        lambda name, kwargs, **_queue: sent.append((name, kwargs)),
    )
    return sent


class TestDescribeBattery:
    @pytest.fixture
    def by(self, battery, office, now):
        return {"device": battery, "member": office, "now": now}

    def test_keeps_the_month_of_manufacture_and_the_chemistry_on_the_device(self, by, battery):
        services.describe_battery(facts=with_(chemistry="nicad", cells=10, series=1), **by)

        battery.refresh_from_db()
        assert battery.manufactured_on == date(2019, 1, 1)
        assert battery.component_key == "battery_nicad"
        assert queries.find_facts(device=battery).cells == 10

    def test_changes_the_one_row_and_writes_down_what_changed(self, by, battery):
        services.describe_battery(facts=FACTS, **by)
        services.describe_battery(facts=with_(rated_ah=26.0), **by)

        assert BatterySet.objects.get(device=battery).rated_ah == 26.0
        line = AuditLine.objects.filter(action="battery.described").latest("at", "pk")
        assert line.before == {"rated_ah": 18.0}
        assert line.after == {"rated_ah": 26.0}

    def test_renews_the_due_dates(self, by, battery, sent, django_capture_on_commit_callbacks):
        with django_capture_on_commit_callbacks(execute=True):
            services.describe_battery(facts=FACTS, **by)

        assert [name for name, _ in sent] == ["due.refresh_building"]
        assert sent[0][1]["building_id"] == str(battery.building_id)

    @pytest.mark.parametrize(
        ("changed", "field", "said"),
        [
            ({"chemistry": "lithium"}, "chemistry", "Choose one of"),
            ({"series": 0}, "series", "1 to 24"),
            ({"rated_ah": 0.0}, "rated_ah", "above 0"),
            ({"rated_ah": float("nan")}, "rated_ah", "cannot be"),
            ({"standby_a": -0.1}, "standby_a", "cannot be"),
            ({"alarm_a": None}, "alarm_a", "both loads"),
            ({"maker_float_low_v": 13.5}, "maker_float_high_v", "both ends"),
            (
                {"maker_float_low_v": 13.8, "maker_float_high_v": 13.5},
                "maker_float_high_v",
                "Swap the two",
            ),
            ({"manufactured_on": date(2026, 12, 1)}, "manufactured_on", "still to come"),
            ({"manufactured_on": date(2019, 4, 1)}, "manufactured_on", "after it was put in"),
        ],
    )
    def test_refuses_what_cannot_be_and_keeps_nothing(self, by, battery, changed, field, said):
        with pytest.raises(services.UnableToDescribe) as refused:
            services.describe_battery(facts=with_(**changed), **by)

        assert list(refused.value.problems) == [field]
        assert said in refused.value.problems[field]
        assert not BatterySet.objects.exists()

    def test_a_set_made_in_the_month_it_was_put_in_is_no_contradiction(self, by, battery):
        services.describe_battery(facts=with_(manufactured_on=date(2019, 3, 28)), **by)

        battery.refresh_from_db()
        assert battery.manufactured_on == date(2019, 3, 1)

    def test_refuses_what_is_no_battery(self, by, detector):
        with pytest.raises(services.UnableToDescribe, match="no battery set"):
            services.describe_battery(facts=FACTS, **by | {"device": detector})


class TestRecordBatteryTest:
    @pytest.fixture
    def by(self, battery, technician, now):
        factories.BatterySetFactory(device=battery)
        return {
            "device": battery,
            "tested_on": date(2026, 11, 24),
            "member": technician,
            "now": now,
        }

    def adopt(self, building, edition):
        building.edition = edition
        building.save(update_fields=["edition"])

    def test_judges_by_the_edition_of_the_building_across_all_cells(self, by, building):
        # To 2016, from memory: 2.05 V per cell under load; 12 cells: 24.6 V.
        kept = services.record_battery_test(said={"load_v": "24,6"}, **by)
        failed = services.record_battery_test(said={"load_v": "24.59"}, **by)

        assert (kept.state, kept.cells, kept.edition) == ("keep", 12, "nfpa72-2013")
        assert failed.state == "replace"
        assert kept.typed == {"load_v": "24,6"}
        assert kept.load_v == 24.6

    def test_judges_one_battery_by_its_own_cells(self, by):
        test = services.record_battery_test(said={"load_v": "12.29", "across": "one"}, **by)

        assert (test.cells, test.state) == (6, "replace")

    # From 2019 on (a trade forum restating it): 79, 80, 84, 85 %.
    @pytest.mark.parametrize(
        ("capacity", "state"),
        [
            ("79", "replace"),
            ("80", "replace"),
            ("84", "replace_at_next_test"),
            ("85", "keep"),
        ],
    )
    def test_judges_capacity_from_2019_on(self, by, building, capacity, state):
        self.adopt(building, "nfpa72-2019")

        assert services.record_battery_test(said={"capacity": capacity}, **by).state == state

    def test_works_capacity_out_from_time_and_temperature(self, by, building):
        self.adopt(building, "nfpa72-2019")
        test = services.record_battery_test(
            said={"rate_h": "3", "run_h": "2.4", "temperature": "20", "temperature_unit": "°C"},
            **by,
        )

        # 20 °C is 68 °F: factor 1.056 of the published table; 0.8 * 1.056.
        assert test.temperature_f == pytest.approx(68)
        assert test.capacity_share == pytest.approx(0.8448)
        assert test.state == "replace_at_next_test"

    def test_a_capacity_test_at_a_short_rate_serves_no_due_date(self, by, building):
        self.adopt(building, "nfpa72-2019")
        services.record_battery_test(said={"rate_h": "1", "run_h": "1"}, **by)
        assert queries.list_tests(building=building) == {}

        services.record_battery_test(said={"rate_h": "3", "run_h": "3"}, **by)
        assert [part for _, part, _ in queries.list_tests(building=building)[by["device"].pk]] == [
            "capacity"
        ]

    def test_holds_the_makers_figures_against_the_whole_set(self, by, building, battery):
        self.adopt(building, "nfpa72-2019")
        BatterySet.objects.filter(device=battery).update(
            maker_float_low_v=13.5, maker_float_high_v=13.8, maker_load_v=11.5
        )

        test = services.record_battery_test(said={"float_v": "27.6", "load_v": "22.9"}, **by)
        states = {part["part"]: part["state"] for part in test.parts}
        assert states == {"charger": "keep", "load": "replace"}

    def test_compares_the_ohmic_value_with_the_first_on_record(self, by):
        services.record_battery_test(said={"ohmic_mohm": "10"}, **by)
        risen = services.record_battery_test(said={"ohmic_mohm": "13.1"}, **by)

        assert risen.ohmic_baseline_mohm == 10
        assert risen.state == "look_closer"

    def test_a_failed_capacity_is_one_critical_deficiency(self, by, building, battery):
        self.adopt(building, "nfpa72-2019")
        services.record_battery_test(said={"capacity": "84"}, **by)
        assert not Finding.objects.exists()

        for _ in range(2):
            services.record_battery_test(said={"capacity": "79"}, **by)
        found = Finding.objects.get(device=battery)
        assert found.severity == "critical_deficiency"
        assert "79 % of rated capacity" in found.text

    @pytest.mark.parametrize(
        ("said", "field", "words"),
        [
            ({}, "load_v", "at least one thing"),
            ({"load_v": "24..9"}, "load_v", "is not a number"),
            ({"load_v": "249"}, "load_v", "Was it 24.9"),
            ({"load_v": "-3"}, "load_v", "cannot be"),
            ({"capacity": "840"}, "capacity", "0 to 200"),
            ({"run_h": "3"}, "rate_h", "how long the maker"),
            ({"run_h": "3", "rate_h": "3", "capacity": "90"}, "capacity", "not both"),
            ({"run_h": "3", "rate_h": "0"}, "rate_h", "above 0"),
            ({"run_h": "3", "rate_h": "3", "temperature": "20"}, "temperature", "lies outside"),
            ({"discharge_min": "30"}, "discharge_v", "as well"),
            ({"gravity": "1265"}, "gravity", "Was it 1.265"),
        ],
    )
    def test_refuses_what_cannot_be_by_its_field(self, by, said, field, words):
        with pytest.raises(services.UnableToRecord) as refused:
            services.record_battery_test(said=said, **by)

        assert words in refused.value.problems[field]
        assert not refused.value.is_doubt
        assert not BatteryTest.objects.exists()

    @pytest.mark.parametrize("said", [{"load_v": "12.9"}, {"capacity": "0.84"}])
    def test_asks_once_about_what_looks_like_a_slip(self, by, said):
        with pytest.raises(services.UnableToRecord) as refused:
            services.record_battery_test(said=said, **by)
        assert refused.value.is_doubt

        assert services.record_battery_test(said=said | {"sure": "on"}, **by).pk

    @pytest.mark.parametrize(
        ("day", "said"), [("2026-11-26", "still to come"), ("2019-03-11", "was put in on")]
    )
    def test_refuses_days_outside_its_time(self, by, day, said):
        with pytest.raises(services.UnableToRecord, match=said):
            services.record_battery_test(
                said={"load_v": "25"}, **by | {"tested_on": date.fromisoformat(day)}
            )

    def test_today_is_the_buildings_own(self, by):
        # 03:00 UTC on 26 Nov is 22:00 on 25 Nov in New York.
        late = datetime(2026, 11, 26, 3, 0, tzinfo=UTC)
        with pytest.raises(services.UnableToRecord, match="still to come"):
            services.record_battery_test(
                said={"load_v": "25"}, **by | {"tested_on": date(2026, 11, 26), "now": late}
            )

    def test_renews_the_due_dates(self, by, sent, django_capture_on_commit_callbacks):
        with django_capture_on_commit_callbacks(execute=True):
            services.record_battery_test(said={"load_v": "25"}, **by)

        assert [name for name, _ in sent] == ["due.refresh_building"]


class TestWithdrawBatteryTest:
    def test_keeps_the_test_and_lets_it_count_no_more(self, building, battery, office, now):
        test = factories.BatteryTestFactory(device=battery)

        services.withdraw_battery_test(test=test, reason="Wrong set.", member=office, now=now)
        services.withdraw_battery_test(test=test, reason="Again.", member=office, now=now)

        assert BatteryTest.objects.get().withdrawal_or_none.reason == "Wrong set."
        assert queries.list_tests(building=building) == {}

    def test_asks_why(self, battery, office, now):
        test = factories.BatteryTestFactory(device=battery)

        with pytest.raises(services.UnableToRecord, match="Say why"):
            services.withdraw_battery_test(test=test, reason=" ", member=office, now=now)
