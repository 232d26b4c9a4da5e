"""Sealed records: frozen, chained, amended openly, checked."""

import json
import threading

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, connections, transaction

from contractor.readings.models import Reading
from contractor.tenancy.models import FirmProfile, Job
from contractor.tenancy.scope import scope
from contractor.visits import queries, services
from contractor.visits.cautions import list_cautions
from contractor.visits.models import SealedRecord
from contractor.visits.services import sealing
from tests import factories


class TestCanonical:
    def test_is_the_same_for_the_same_content(self):
        assert sealing.canonical({"b": 1, "a": "é"}) == '{"a":"é","b":1}'
        assert sealing.canonical({"a": "é", "b": 1}) == '{"a":"é","b":1}'

    def test_refuses_what_json_cannot_hold(self):
        with pytest.raises(ValueError, match="Out of range float"):
            sealing.canonical({"a": float("nan")})

    def test_the_fingerprint_is_sha_256(self):
        # Source: FIPS 180-2, appendix B.1, the digest of "abc".
        assert sealing.fingerprint("abc") == (
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        )


@pytest.mark.django_db
class TestAmend:
    @pytest.fixture
    def amendment(self, handed_in, signed, office, detector, now):
        return {
            "visit": handed_in,
            "reason": "Log re-read",
            "changes": [services.Amendment(detector.pk, "functional", "fail", "Alarm came late")],
            "member": office,
            "now": now,
        }

    def test_adds_a_revision_that_says_what_changed(self, amendment, signed, detector):
        second = services.amend(**amendment)

        assert (second.revision, second.previous_hash) == (2, signed.chain_hash)
        assert services.list_differences(
            old=json.loads(signed.body), new=json.loads(second.body)
        ) == [
            {"what": f"{detector.address} Kitchen corridor, result", "old": "pass", "new": "fail"},
            {
                "what": f"{detector.address} Kitchen corridor, functional test",
                "old": "pass",
                "new": "fail: Alarm came late",
            },
        ]
        assert services.verify_chain(firm_id=signed.firm_id) == []

    def test_queues_a_report_of_its_own(self, amendment, signed):
        second = services.amend(**amendment)

        assert set(Job.objects.values_list("key", flat=True)) == {
            f"report:{signed.pk}",
            f"report:{second.pk}",
        }

    def test_keeps_what_was_sealed_of_everything_else(self, amendment, signed, heat, building):
        building.name = "Renamed House"
        building.save()
        FirmProfile.objects.update(telephone="555 9999")
        heat.label = "Moved"
        heat.save()

        body = json.loads(services.amend(**amendment).body)
        assert body["property"]["building"] == "Quillmarsh House"
        assert body["firm"]["telephone"] == "555 0134"
        assert "Moved" not in [device["label"] for device in body["devices"]]
        assert body["counts"]["failed"] == 1
        assert (body["visit"]["revision"], body["visit"]["reason"]) == (2, "Log re-read")

    def test_a_reading_is_amended_by_the_reading_as_it_was(self, amendment, signed, detector):
        change = services.Amendment(detector.pk, "sensitivity", said={"drift": "1.40"})
        body = json.loads(services.amend(**amendment | {"changes": [change]}).body)

        device = body["devices"][0]
        assert device["tasks"]["sensitivity"]["result"] == "fail"
        assert [reading["drift"] for reading in device["readings"]] == [1.4]
        counted = Reading.objects.filter(withdrawal=None).get()
        assert (counted.drift, counted.method) == (1.4, "control_unit")

    def test_the_day_of_an_amended_reading_does_not_move(self, amendment, detector, now):
        from datetime import timedelta

        change = services.Amendment(detector.pk, "sensitivity", said={"drift": "0.50"})
        later = now + timedelta(days=30)
        services.amend(**amendment | {"changes": [change], "now": later})

        assert Reading.objects.filter(withdrawal=None).get().taken_on == now.date()

    @pytest.mark.parametrize(
        ("said", "why"),
        [
            ({"reason": ""}, "Say why the record is amended"),
            ({"changes": []}, "at least one"),
            ({"revision": 2}, "amended meanwhile"),
        ],
    )
    def test_refuses_and_changes_nothing(self, amendment, said, why):
        with pytest.raises(services.UnableToAmend, match=why):
            services.amend(**amendment | said)
        assert SealedRecord.objects.count() == 1

    @pytest.mark.parametrize(
        ("task", "result", "reason", "why"),
        [
            ("functional", "pass", "", "nothing would change"),
            ("functional", "fail", " ", "Say why it failed"),
            ("functional", "", "", "Choose pass, fail or not tested"),
            ("sensitivity", "pass", "", "read, not asserted"),
            ("inspection", "pass", "", "not part of this visit"),
        ],
    )
    def test_refuses_a_change_that_says_nothing(
        self, amendment, detector, task, result, reason, why
    ):
        change = services.Amendment(detector.pk, task, result, reason)
        with pytest.raises(services.UnableToAmend, match=why):
            services.amend(**amendment | {"changes": [change]})

    def test_refuses_a_visit_that_is_not_signed(self, visit, office, now):
        with pytest.raises(services.UnableToAmend, match="Only a signed visit"):
            services.amend(visit=visit, reason="x", changes=[], member=office, now=now)


def sign_one(*, firm, now, name="Quillmarsh House"):
    """Make a visit with one manual station, and sign it off."""
    with scope(firm.pk):
        FirmProfile.objects.update(address="2 Ferry Lane", telephone="555 0134")
        member = factories.MemberFactory(firm=firm, role="office", name="I. Tarrowby")
        building = factories.BuildingFactory(firm=firm, name=name)
        system = factories.SystemFactory(building=building)
        device = factories.DeviceFactory(system=system, kind="manual", product=None)
        common = {"member": member, "now": now}
        visit = services.plan_visit(
            building=building,
            planned_on=now.date(),
            tasks=["functional"],
            member_ids=[],
            **common,
        )
        visit = services.begin_visit(
            visit=visit,
            notified_before="told",
            cautions=list_cautions(building=building),
            **common,
        )
        services.pass_device(visit=visit, device=device, **common)
        return services.hand_in(
            visit=visit, notified_after="told", reason_for_rest="", **common
        ), member


@pytest.mark.django_db(transaction=True, databases=["default", "owner"])
class TestVerifyChain:
    """With records that are committed, and somebody who may do anything to the table."""

    @pytest.fixture
    def records(self, firm, now):
        found = []
        for name in ("Quillmarsh House", "Canary Hall", "Teasel Street School"):
            visit, member = sign_one(firm=firm, now=now, name=name)
            with scope(firm.pk):
                found.append(services.sign_off(visit=visit, member=member, now=now))
        return found

    def as_owner(self, firm, statement, *values, unlocked=True):
        """Run one statement as the owner of the table, with the triggers off if asked."""
        owner = connections["owner"]
        with transaction.atomic("owner"), owner.cursor() as cursor:
            cursor.execute("select set_config('app.firm_id', %s, true)", [str(firm.pk)])
            table = "alter table visits_sealedrecord"
            if unlocked:
                cursor.execute(f"{table} disable trigger sealed_stays_sealed")
            cursor.execute(statement, values)
            changed = cursor.rowcount
            if unlocked:
                cursor.execute(f"{table} enable trigger sealed_stays_sealed")
        return changed

    def problems(self, firm):
        with scope(firm.pk):
            return services.verify_chain(firm_id=firm.pk)

    def test_finds_nothing_in_an_untouched_chain(self, records, firm, capsys):
        assert self.problems(firm) == []

        call_command("verify_records")
        assert "0 problems; the chain ends with record 3" in capsys.readouterr().out

    @pytest.mark.parametrize(
        "statement",
        [
            "update visits_sealedrecord set reason = 'x'",
            "delete from visits_sealedrecord",
        ],
    )
    def test_not_even_the_owner_changes_a_record_by_mistake(self, records, firm, statement):
        with pytest.raises(DatabaseError, match="never changed or removed"):
            self.as_owner(firm, statement, unlocked=False)

    def test_the_table_cannot_be_emptied_either(self, records, firm):
        with transaction.atomic("owner"), connections["owner"].cursor() as cursor:
            table = "alter table visits_sealedrecord"
            cursor.execute(f"{table} enable trigger sealed_stays_there")
            with (
                pytest.raises(DatabaseError, match="never changed or removed"),
                transaction.atomic("owner"),
            ):
                cursor.execute("truncate visits_sealedrecord cascade")
            cursor.execute(f"{table} disable trigger sealed_stays_there")

    @pytest.mark.parametrize(
        ("change", "found"),
        [
            ("body = replace(body, '\"pass\"', '\"fail\"')", "its text is not what was sealed"),
            ("record_hash = repeat('0', 64)", "its link is not what was sealed"),
            ("previous_hash = repeat('0', 64)", "does not follow the record before it"),
            ("chain_hash = repeat('0', 64)", "its link is not what was sealed"),
            ("revision = 2", "an earlier revision is missing"),
            ("chain_number = 9", "link 2 is missing before it"),
        ],
    )
    def test_finds_a_changed_record(self, records, firm, change, found):
        statement = f"update visits_sealedrecord set {change} where chain_number = 2"
        assert self.as_owner(firm, statement) == 1

        assert any(found in said for said in self.problems(firm))
        with pytest.raises(CommandError, match="problems"):
            call_command("verify_records", "tarnbeck")

    @pytest.mark.parametrize("number", [1, 2])
    def test_finds_a_removed_record(self, records, firm, number):
        self.as_owner(firm, "delete from visits_sealedrecord where chain_number = %s", number)

        assert any(f"link {number} is missing" in said for said in self.problems(firm))

    def test_finds_the_end_cut_off(self, records, firm):
        self.as_owner(firm, "delete from visits_sealedrecord where chain_number = 3")

        assert self.problems(firm) == [
            f"Visit {records[2].visit_id} is signed off and has no record."
        ]

    def test_finds_a_record_put_under_another_visit(self, records, firm):
        self.as_owner(
            firm,
            "update visits_sealedrecord set visit_id = %s, revision = 2 where chain_number = 3",
            records[0].visit_id,
        )

        assert any("belongs to another visit" in said for said in self.problems(firm))

    def test_two_who_sign_at_once_make_two_links(self, firm, now):
        waiting = [sign_one(firm=firm, now=now, name=name) for name in ("One Hall", "Two Hall")]
        start, wrong = threading.Barrier(2), []

        def sign(visit, member):
            try:
                start.wait()
                with scope(firm.pk):
                    services.sign_off(visit=visit, member=member, now=now)
            except Exception as error:  # reported below, in the thread that can fail the test
                wrong.append(error)
            finally:
                connection.close()

        threads = [threading.Thread(target=sign, args=one) for one in waiting]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()

        assert wrong == []
        assert self.problems(firm) == []
        with scope(firm.pk):
            assert queries.find_head(firm_id=firm.pk).chain_number == 2
