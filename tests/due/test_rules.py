"""What moves due dates beside the code: what was done elsewhere, local rules, other editions."""

from datetime import UTC, date, datetime

import pytest

from contractor.due import queries, services, tasks
from contractor.due.explained import explain
from contractor.due.models import Done, Due, EditionChange
from contractor.register.models import Building
from tests import factories
from tests.conftest import NOON, TODAY
from tests.due.test_every_task import done, refreshed

pytestmark = pytest.mark.django_db


@pytest.fixture
def building(building):
    building.edition, building.jurisdiction = "nfpa72-2013", "Port Ellory (invented)"
    building.monitoring = "Ellory Central (invented)"
    building.save()
    return building


def add_rule(office, **said):
    return services.add_local_rule(
        **{
            "jurisdiction": "port ellory (INVENTED)",
            "effect": "oftener",
            "component": "smoke",
            "task": "functional",
            "frequency": "semiannual",
            "reason": "Ordinance 12 (invented)",
            "from_on": date(2026, 1, 1),
            "member": office,
            "now": NOON,
        }
        | said
    )


class TestLocalRules:
    def test_a_shorter_interval_counts_and_says_where_it_is_written(
        self, building, detector, office
    ):
        done(building, "functional", date(2026, 2, 10), detector)
        rule = add_rule(office)

        due = refreshed(building)["smoke", "functional"]
        assert (due.earliest_on, due.latest_on) == (date(2026, 6, 10), date(2026, 10, 10))
        assert due.local_rule == rule.pk
        assert explain(due).local_rule.reason == "Ordinance 12 (invented)"

    def test_a_rule_never_makes_a_task_rarer(self, building, system, office):
        device = factories.DeviceFactory(system=system, kind="waterflow")
        done(building, "functional", date(2026, 2, 10), device)
        before = refreshed(building)["waterflow", "functional"]
        add_rule(office, component="waterflow", frequency="annual")

        after = refreshed(building)["waterflow", "functional"]
        assert (after.latest_on, after.local_rule) == (before.latest_on, None)

    def test_holds_from_its_day_and_until_it_ends(self, building, detector, office):
        done(building, "functional", date(2026, 2, 10), detector)
        rule = add_rule(office, from_on=date(2026, 12, 1))
        assert refreshed(building)["smoke", "functional"].latest_on == date(2027, 5, 10)
        assert refreshed(building, date(2026, 12, 1))["smoke", "functional"].latest_on == date(
            2026, 10, 10
        )
        services.end_local_rule(
            rule=rule, until_on=date(2027, 1, 1), reason="Repealed", member=office, now=NOON
        )
        assert refreshed(building, date(2027, 1, 1))["smoke", "functional"].latest_on == date(
            2027, 5, 10
        )

    def test_another_place_is_not_touched(self, building, detector, office):
        done(building, "functional", date(2026, 2, 10), detector)
        add_rule(office, jurisdiction="Dunmere (invented)")

        assert refreshed(building)["smoke", "functional"].latest_on == date(2027, 5, 10)

    def test_an_extra_task_has_its_own_name(self, building, detector, office):
        add_rule(
            office,
            effect="extra",
            task="",
            name="Clean the chamber",
            frequency="annual",
        )

        found = [due for due in refreshed(building).values() if due.name == "Clean the chamber"]
        assert [due.task_words for due in found] == ["Clean the chamber"]
        assert found[0].device_id == detector.pk

    def test_approval_bars_the_five_year_interval_until_it_is_on_record(
        self, building, detector, office
    ):
        building.nuisance_log_since = date(2019, 3, 12)
        building.save()
        for day in (date(2020, 3, 10), date(2022, 3, 8)):
            factories.ReadingFactory(device=detector, taken_on=day)
        assert refreshed(building)["smoke", "sensitivity"].is_extended
        add_rule(office, effect="approval", component="", task="", frequency="")

        due = refreshed(building)["smoke", "sensitivity"]
        assert (due.latest_on, due.is_extended) == (date(2024, 3, 8), False)
        assert "written approval" in due.reasons[-1]["text"]
        building.extension_approval = "Fire marshal (invented), 4 May 2022"
        building.save()
        assert refreshed(building)["smoke", "sensitivity"].is_extended

    def test_every_restorable_head_each_year_replaces_the_sample(self, building, system, office):
        for number in range(10):
            factories.DeviceFactory(system=system, kind="heat", address=f"1-{number}")
        add_rule(office, component="heat_restorable", frequency="annual")
        services.refresh_building(building=building, today=TODAY)

        found = Due.objects.filter(component="heat_restorable", task="functional")
        assert {due.basis for due in found} == {"no_record"}

    @pytest.mark.parametrize(
        ("said", "sentence"),
        [
            ({"jurisdiction": " "}, "Name the jurisdiction"),
            ({"reason": ""}, "where it is written"),
            ({"component": "spoon"}, "what it is done to"),
            ({"frequency": "often"}, "how often"),
            ({"effect": "extra", "name": ""}, "what is done"),
        ],
    )
    def test_refuses_half_a_rule(self, office, said, sentence):
        with pytest.raises(services.UnableToRule, match=sentence):
            add_rule(office, **said)


class TestChangeOfEdition:
    def test_shows_what_would_move_and_moves_nothing(self, building, system):
        # Sealed lead-acid: the 2019 edition asks for a capacity test every three years.
        factories.DeviceFactory(
            system=system,
            kind="battery",
            installed_on=date(2024, 6, 1),
            manufactured_on=date(2024, 3, 1),
        )
        refreshed(building)

        found = services.preview_edition(
            buildings=[building], edition="nfpa72-2019", from_on=date(2027, 1, 1)
        )
        new = {(move.task_words, move.effect) for move in found.moves}
        assert ("capacity test", "new") in new
        assert found.looked_at == found.unchanged + sum(found.counts.values())
        building.refresh_from_db()
        assert building.edition == "nfpa72-2013"
        assert not Due.objects.filter(task="capacity").exists()

    def test_comes_into_force_on_its_day(self, building, detector, office, firm):
        services.change_edition(
            buildings=[building],
            edition="nfpa72-2022",
            from_on=date(2027, 1, 1),
            reason="Adopted by ordinance (invented)",
            member=office,
            now=NOON,
        )
        eve, day = datetime(2026, 12, 31, 12, tzinfo=UTC), datetime(2027, 1, 1, 12, tzinfo=UTC)
        assert services.list_coming_into_force(firm_id=firm.pk, now=eve) == []
        (change,) = services.list_coming_into_force(firm_id=firm.pk, now=day)
        services.apply_change(change=change, now=NOON)
        services.apply_change(change=change, now=NOON)

        assert Building.objects.get(pk=building.pk).edition == "nfpa72-2022"
        assert {due.edition for due in Due.objects.all()} == {"nfpa72-2022"}

    @pytest.mark.parametrize(
        ("zone", "before", "after"),
        [  # the moments on both sides of midnight where the building stands
            ("Pacific/Honolulu", "2027-01-01T09:59", "2027-01-01T10:00"),
            ("Pacific/Kiritimati", "2026-12-31T09:59", "2026-12-31T10:00"),
        ],
    )
    def test_by_the_day_of_the_building(
        self, building, office, firm, time_machine, monkeypatch, zone, before, after
    ):
        building.time_zone = zone
        building.save()
        services.change_edition(
            buildings=[building],
            edition="nfpa72-2022",
            from_on=date(2027, 1, 1),
            reason="Adopted by ordinance (invented)",
            member=office,
            now=NOON,
        )
        queued = []
        monkeypatch.setattr(tasks.jobs, "enqueue", lambda name, **_keys: queued.append(name))

        def run(at):
            time_machine.move_to(datetime.fromisoformat(at).replace(tzinfo=UTC), tick=False)
            queued.clear()
            tasks.hour()
            tasks.night_of_firm(firm_id=str(firm.pk))
            return "due.put_into_force" in queued, Building.objects.get(pk=building.pk).edition

        assert run(before) == (False, "nfpa72-2013")
        assert run(after) == (True, "nfpa72-2022")

    def test_at_once_where_the_day_has_come(self, building, detector, office):
        services.change_edition(
            buildings=[building],
            edition="can-ulc-s536",
            from_on=TODAY,
            reason="Moved (invented)",
            member=office,
            now=NOON,
        )

        due = Due.objects.get(device=detector, task="sensitivity")
        assert due.edition == "can-ulc-s536"

    def test_a_second_plan_takes_the_place_of_the_first(self, building, office):
        said = {"buildings": [building], "reason": "Adopted", "member": office, "now": NOON}
        services.change_edition(edition="nfpa72-2016", from_on=date(2027, 1, 1), **said)
        services.change_edition(edition="nfpa72-2019", from_on=date(2027, 2, 1), **said)

        standing = EditionChange.objects.filter(withdrawn_at=None)
        assert [change.edition for change in standing] == ["nfpa72-2019"]

    def test_refuses_the_edition_it_has(self, building, office):
        with pytest.raises(services.UnableToChange, match="already"):
            services.change_edition(
                buildings=[building],
                edition="nfpa72-2013",
                from_on=TODAY,
                reason="x",
                member=office,
                now=NOON,
            )


class TestRecordByHand:
    @pytest.mark.parametrize(
        ("said", "sentence"),
        [
            ({"done_on": date(2026, 12, 24)}, "still to come"),
            ({"evidence": " "}, "what shows it"),
            ({"task": "sensitivity"}, "read, not asserted"),
            ({"task": "polish"}, "No such task"),
            ({"done_on": date(2019, 1, 1)}, "installed on 12 Mar 2019"),
            ({"device_ids": ()}, "at least one device"),
        ],
    )
    def test_refuses_and_writes_nothing(self, building, detector, office, said, sentence):
        with pytest.raises(services.UnableToRecord, match=sentence):
            services.record_by_hand(
                **{
                    "building": building,
                    "task": "functional",
                    "done_on": date(2026, 1, 5),
                    "evidence": "label on the control unit",
                    "member": office,
                    "now": NOON,
                    "device_ids": [detector.pk],
                }
                | said
            )
        assert not Done.objects.exists()

    def test_refuses_another_buildings_device(self, building, detector, office, firm):
        other = factories.BuildingFactory(firm=firm, name="Elsewhere")
        stranger = factories.DeviceFactory(system=factories.SystemFactory(building=other))
        with pytest.raises(services.UnableToRecord, match="not in this building"):
            done(building, "functional", date(2026, 1, 5), stranger)

    def test_withdrawn_it_counts_no_more_and_stays(self, building, detector, office):
        done(building, "functional", date(2026, 1, 5), detector)
        row = Done.objects.get()
        services.withdraw(done=row, reason="Wrong building", member=office, now=NOON)

        assert refreshed(building)["smoke", "functional"].basis == "no_record"
        assert [one.withdrawn for one in queries.list_done(building=building)] == ["Wrong building"]
        with pytest.raises(services.UnableToRecord, match="withdrawn already"):
            services.withdraw(done=row, reason="again", member=office, now=NOON)


class TestExplain:
    def test_says_rule_clause_edition_and_what_would_change_it(self, building, detector):
        done(building, "functional", date(2026, 1, 5), detector)
        building.accreditor_windows = True
        building.save()

        why = explain(refreshed(building)["smoke", "functional"])
        assert why.sentence == "Last done on 5 Jan 2026; due again by 5 Apr 2027."
        assert "at least 9 and at most 15 months" in why.rule
        assert why.edition == "NFPA 72, 2013 edition"
        assert why.clause
        assert why.standing
        assert why.method
        assert ("last done", "5 Jan 2026") in why.inputs
        assert why.would_change
        # Accreditor, annual: 30 days more or less (ASHE); beside the code's window.
        assert why.accreditor == (date(2026, 12, 6), date(2027, 2, 4))

    def test_says_something_of_every_basis(self, building, system, office):
        factories.DeviceFactory(system=system)
        factories.DeviceFactory(system=system, kind="heat")
        factories.DeviceFactory(system=system, kind="battery", manufactured_on=date(2019, 1, 1))
        factories.DeviceFactory(
            system=system, kind="other", component="smoke_alarm", manufactured_on=date(2019, 1, 1)
        )
        for due in refreshed(building).values():
            why = explain(due)
            assert why.sentence.endswith("."), (due.task, why.sentence)
            assert why.would_change, due.basis
