"""The editions as data: whole, cited, and not surer than their sources."""

import pytest

from contractor.engine import editions
from contractor.engine.editions import UnknownEdition
from contractor.engine.editions.marks import UNMARKED_HIGH
from contractor.engine.editions.model import COMPONENTS, OTHER_FREQUENCIES, STANDINGS
from contractor.engine.editions.sources import SOURCES
from contractor.engine.editions.windows import FREQUENCIES, WINDOW_RULES
from contractor.engine.sensitivity import RULES, Verdict

KEYS = editions.keys()
NFPA = [key for key in KEYS if key.startswith("nfpa72")]
BASES = ["first_year", "alternate_year", "extended", "restart", "nuisance_increase"]


class TestGet:
    def test_holds_six_editions_of_the_american_code_and_two_others(self):
        assert [editions.get(key).year for key in NFPA] == [2010, 2013, 2016, 2019, 2022, 2025]
        assert set(KEYS) - set(NFPA) == {"can-ulc-s536", "bs5839-1"}

    @pytest.mark.parametrize("key", ["", "nfpa72", "nfpa72-2012", None])
    def test_names_the_keys_that_it_knows(self, key):
        with pytest.raises(UnknownEdition, match="nfpa72-2013"):
            editions.get(key)


@pytest.mark.parametrize("key", KEYS)
class TestEveryEdition:
    def test_cites_sources_that_exist_and_says_how_sure_it_is(self, key):
        edition = editions.get(key)
        cited = [*edition.clauses.values(), *edition.rows]
        cited += [rule for rule in (edition.battery, edition.alarms, edition.rates) if rule]
        cited += edition.life.clauses.values() if edition.life else []

        for item in cited:
            assert item.standing in STANDINGS
            assert set(item.sources) <= SOURCES.keys()
            assert item.note
            # Confirmed means that somebody published it.
            assert item.sources or not item.is_confirmed

    def test_has_each_row_once_and_every_row_can_be_scheduled(self, key):
        edition = editions.get(key)
        names = [(row.component, row.task, row.part) for row in edition.rows]
        known = WINDOW_RULES[edition.window_rule].keys() | OTHER_FREQUENCIES

        assert len(names) == len(set(names))
        for row in edition.rows:
            assert row.component in COMPONENTS
            assert row.frequency in known
            assert all([row.method, row.sample, row.clause, row.name, row.kind])

    def test_marks_what_is_recalled(self, key):
        edition = editions.get(key)
        recalled = [row for row in edition.rows if row.standing == "from memory"]

        assert recalled
        assert all("check against a licensed copy" in row.note for row in recalled)


@pytest.mark.parametrize("key", NFPA)
class TestEveryAmericanEdition:
    def test_has_a_clause_for_every_basis_and_verdict(self, key):
        edition = editions.get(key)
        topics = {Verdict("in_range", "", rule).clause_topic for rule in RULES}

        assert {*BASES, *topics, "out_of_range", "methods"} <= edition.clauses.keys()

    def test_has_the_same_sensitivity_rule(self, key):
        # 1 year, alternate years, 5 years; 4 %/ft unmarked: survey reports of 2013 and 2024.
        rule = editions.get(key).sensitivity

        assert (rule.first_months, rule.repeat_months, rule.extended_months) == (12, 24, 60)
        assert rule.unmarked_high == UNMARKED_HIGH == 4.0
        assert len(rule.methods) == 5

    def test_asks_for_a_battery_margin_by_its_year(self, key):
        # 20 % from 2010 to 2019, 25 % from 2022 (trade press and a meter maker's page).
        edition = editions.get(key)

        assert edition.battery.margin == (1.2 if edition.year <= 2019 else 1.25)

    def test_tests_every_smoke_detector_for_function_and_for_sensitivity(self, key):
        edition = editions.get(key)

        for kind in ("smoke", "smoke_heat", "duct"):
            assert edition.row(kind, "test", "functional").frequency == "annual"
            assert edition.row(kind, "test", "sensitivity").frequency == "sensitivity"
        assert edition.row("heat_restorable", "test", "sensitivity") is None

    def test_lets_unmeasured_smoke_prove_function_but_not_sensitivity(self, key):
        edition = editions.get(key)

        assert "unmeasured" in edition.refusal("unmeasured_aerosol")
        assert edition.refusal("unmeasured_aerosol", part="functional") == ""
        assert edition.refusal("instrument") == ""
        assert "Not a permitted method" in edition.refusal("guess")

    def test_does_not_make_the_sensitivity_test_annual(self, key):
        # A training blog has it so; it is so in Canada only.
        assert editions.get(key).sensitivity.repeat_months == 24


class TestClauses:
    def test_are_data_and_differ_between_editions(self):
        numbers = {key: editions.get(key).clause("extended").number for key in NFPA}

        assert numbers["nfpa72-2010"] == "14.4.5.3.3"
        assert numbers["nfpa72-2013"] == "14.4.4.3.3"

    def test_are_confirmed_only_where_their_number_was_seen(self):
        assert editions.get("nfpa72-2010").clause("first_year").is_confirmed
        assert editions.get("nfpa72-2010").clause("first_year").grade == "A"
        assert not editions.get("nfpa72-2025").clause("first_year").is_confirmed


@pytest.mark.parametrize("key", NFPA)
class TestRowsOfEveryAmericanEdition:
    """Values, each with the page that restates it, or from memory."""

    @pytest.mark.parametrize(
        ("component", "part", "said"),
        [
            ("duct", "functional", "pressure difference"),  # Keyes Life Safety, 2010, item 14(g)(6)
            ("waterflow", "", "90 seconds"),  # 17.12, from memory
            ("waterflow", "", "smallest orifice"),  # HCPro, Supervisory devices checklist
            ("tamper", "", "two turns of the wheel or a fifth"),  # the same
            ("air_pressure", "", "10 psi"),  # the same
            ("water_level", "", "3 in. in a pressure tank, at 12 in."),  # the same
            ("room_temperature", "", "40 F"),  # the same
            ("audible", "sound_public", "15 dBA"),  # Electrical Contractor, Proper audibility
            ("audible", "sound_sleeping", "75 dBA"),  # Building code forum, sleeping areas
            ("audible", "low_frequency", "468 to 572 Hz"),  # NFPA Journal, In compliance
            ("battery_primary", "load", "1 ohm"),  # from memory
        ],
    )
    def test_says_how(self, key, component, part, said):
        assert said in editions.get(key).row(component, "test", part).method

    @pytest.mark.parametrize(
        ("component", "frequency"),
        [
            ("waterflow", "semiannual"),  # Keyes Life Safety, 2010
            ("tamper", "semiannual"),  # the same
            ("air_pressure", "quarterly"),  # the same
            ("flame", "semiannual"),  # a contractor's article, Semiannual tasks
            ("smoke_alarm", "monthly"),  # Approved ways to test a smoke alarm
            ("household", "annual"),  # Do I need a fire alarm inspection, 2013
            ("radio", "annual"),  # a fire district, Emergency responder radio coverage
            ("elevator_recall", "monthly"),  # elevator code
            ("room_temperature", "annual"),  # from memory
            ("water_temperature", "quarterly"),  # from memory
        ],
    )
    def test_says_how_often(self, key, component, frequency):
        assert editions.get(key).row(component, "test").frequency == frequency

    @pytest.mark.parametrize(
        "component",
        ["waterflow", "tamper", "air_pressure", "water_level", "room_temperature", "flame"],
    )
    def test_looks_at_supervisory_and_waterflow_devices_every_quarter(self, key, component):
        # From memory.
        assert editions.get(key).row(component, "inspect").frequency == "quarterly"

    def test_holds_the_lives_and_samples(self, key):
        # UL Solutions, Testing service for heat detectors; an exam guide (2 a year, 5 years);
        # Kirschenbaum newsletter 2011 (10 years); New York City FC 907.20.2 (18 months); Building
        # code forum restating 14.4.2 of 2013 (10 percent, at most 50).
        rule = editions.get(key).life

        assert (rule.heat_per_circuit, rule.heat_cover_years) == (2, 5)
        assert (rule.heat_life_years, rule.heat_lab_repeat_years) == (15, 5)
        assert (rule.heat_lab_sample, rule.heat_lab_per) == (2, 100)
        assert rule.smoke_alarm_years == 10
        assert rule.unsafe_months == 18
        assert (rule.software_share, rule.software_most) == (0.10, 50)


class TestRowsThatDiffer:
    def test_the_low_frequency_signal_is_confirmed_to_2013_only(self):
        # NFPA Journal, In compliance: 18.4.5.3 in 2010 and 2013.
        found = {key: editions.get(key).row("audible", "test", "low_frequency") for key in NFPA}

        assert {found[key].clause for key in NFPA[:2]} == {"18.4.5.3"}
        assert [row.is_confirmed for row in found.values()] == [True, True, *[False] * 4]
        assert found["nfpa72-2013"].grade == "A"
        assert found["nfpa72-2019"].clause == "18.4.6.3"

    def test_batteries_lose_their_five_years_in_2013_and_get_a_label_in_2022(self):
        # Electrical Contractor, Fire alarm math (the line was dropped); Notable changes in
        # NFPA 72-2022 (four years on the label).
        rules = {key: editions.get(key).battery for key in NFPA}

        assert [rule.life_years for rule in rules.values()] == [5, *[None] * 5]
        assert [rule.label_years for rule in rules.values()] == [None] * 4 + [4, 4]
        assert editions.get("nfpa72-2013").row("battery_vrla", "replace", "maker").is_confirmed
        assert "battery_label" in editions.get("nfpa72-2022").row("battery_vrla", "replace").sources

    def test_batteries_are_tested_otherwise_since_2019(self):
        # National Training Center, Battery testing since 2019; ohmic from memory.
        def parts(key):
            return {row.key for row in editions.get(key).rows_of("battery_vrla")}

        assert parts("nfpa72-2016") - parts("nfpa72-2019") == {"discharge", "replacement"}
        assert parts("nfpa72-2019") - parts("nfpa72-2016") == {"capacity", "ohmic"}

    def test_carbon_monoxide_stands_in_it_since_2019(self):
        # From memory: its tests stood in NFPA 720 before.
        held = [key for key in NFPA if editions.get(key).rows_of("carbon_monoxide")]

        assert held == NFPA[3:]

    def test_thermal_images_since_2025(self):
        # Security Sales & Integration, Inside the 2025 NFPA 72, part 6: 14.4.3.4.
        row = editions.get("nfpa72-2025").row("thermal_image", "test")

        assert (row.clause, row.frequency, row.is_confirmed) == ("14.4.3.4", "maker", True)
        assert editions.get("nfpa72-2022").row("thermal_image", "test") is None

    def test_recalled_equipment_is_told_since_2016(self):
        # From memory.
        assert [key for key in NFPA if "recalled" in editions.get(key).clauses] == NFPA[2:]


class TestOtherCodes:
    def test_canada_tests_sensitivity_every_year_without_extension(self):
        # Alberta, Smoke detector sensitivity testing (S536-04).
        rule = editions.get("can-ulc-s536").sensitivity

        assert (rule.repeat_months, rule.extended_months) == (12, None)

    def test_britain_visits_by_half_years_and_measures_no_sensitivity(self):
        edition = editions.get("bs5839-1")

        assert edition.sensitivity is None
        assert edition.row("service_visit", "inspect").frequency == "semiannual"

    def test_britain_finds_nothing_stacked_under_a_detector(self):
        # Six monthly inspection and system test (BS 5839-1).
        row = editions.get("bs5839-1").row("service_visit", "inspect")

        assert "500 mm" in row.method
        assert "bs_service" in row.sources

    def test_canada_has_daily_and_monthly_tasks_of_the_owner(self):
        # Guide to CAN/ULC-S536.
        edition = editions.get("can-ulc-s536")

        assert edition.row("owner_daily", "inspect").frequency == "daily"
        assert edition.row("owner_monthly", "inspect").is_confirmed


class TestRowsFor:
    def test_lists_what_is_done_to_one_kind_of_device(self):
        rows = editions.get("nfpa72-2013").rows_for("smoke")

        assert [(row.task, row.part) for row in rows] == [
            ("inspect", ""),
            ("test", "functional"),
            ("test", "sensitivity"),
        ]

    def test_lists_all_kinds_of_heat_detector_under_heat(self):
        rows = editions.get("nfpa72-2013").rows_for("heat")

        assert {row.component for row in rows} == {
            "heat_restorable",
            "heat_line",
            "heat_nonrestorable",
        }


def test_frequencies_keep_their_places():
    # Due rows store the place: a word may be added at the end, never moved.
    assert FREQUENCIES[:5] == ("weekly", "monthly", "quarterly", "semiannual", "annual")
