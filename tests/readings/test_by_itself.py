"""The page of a system's intake, the doors for programs, and what is missed. All invented."""

from datetime import date, timedelta

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from contractor.readings import limits, queries, services
from contractor.readings.models import Intake, IntakeAddress, Reading
from contractor.readings.services import addresses
from contractor.tenancy.models import AuditLine
from tests import factories
from tests.readings.conftest import GOOD, HEAD

pytestmark = pytest.mark.django_db
LIST = ("Printed on 2026-11-20\n" + HEAD + GOOD).encode()


@pytest.fixture
def secret(system, office, now):
    return services.make_secret(system=system, member=office, now=now)[1]


@pytest.fixture(autouse=True)
def _nothing_counted():
    cache.clear()


def door(firm):
    return reverse("hand_in", kwargs={"firm": firm.slug})


def hand_in(client, firm, secret, data=LIST, **more):
    headers = {"Authorization": f"Bearer {secret}"} if secret else {}
    said = {"content_type": "text/csv", "headers": headers} | more
    return client.post(door(firm) + "?filename=week.csv", data, **said)


class TestKey:
    def test_says_what_was_understood_and_where_to_look(self, client, firm, system, secret):
        answer = hand_in(client, firm, secret)

        said = answer.json()
        intake = Intake.objects.get()
        assert answer.status_code == 201
        assert said["page"].endswith(f"/f/{firm.slug}/print-outs/{intake.pk}/")
        assert said["rows"] == {"new": 3, "changed": 0, "same": 0, "problem": 0}
        assert (said["kind"], said["state"]) == ("sensitivity", "draft")
        assert {c["meaning"] for c in said["columns"]} >= {"address", "setting", "drift"}
        assert (said["printed_on"], said["sha256"]) == ("2026-11-20", intake.sha256)
        assert (intake.came_by, intake.system, intake.filename) == ("key", system, "week.csv")
        assert not Reading.objects.exists()

    def test_takes_a_form_field_too(self, client, firm, secret, tmp_path):
        path = tmp_path / "list.csv"
        path.write_bytes(LIST)
        with path.open("rb") as file:
            answer = client.post(
                door(firm), {"file": file}, headers={"Authorization": f"Bearer {secret}"}
            )

        assert answer.status_code == 201
        assert answer.json()["filename"] == "list.csv"

    @pytest.mark.parametrize("key", ["", "a" * 20, "x", "'; drop table", "a" * 4000])
    def test_a_wrong_key_opens_nothing(self, client, firm, secret, key):
        answer = hand_in(client, firm, key)

        assert answer.status_code == 401
        assert answer.json()["code"] == "authentication_failed"
        assert not Intake.objects.exists()

    def test_an_unknown_firm_is_answered_alike(self, client, firm, secret):
        wrong = hand_in(client, firm, "a" * 20)
        nowhere = client.post(
            "/in/no-such-firm/print-outs/",
            LIST,
            content_type="text/csv",
            headers={"Authorization": f"Bearer {secret}"},
        )

        assert (nowhere.status_code, nowhere.json()) == (wrong.status_code, wrong.json())

    def test_a_revoked_key_opens_nothing(self, client, firm, system, office, secret, now):
        services.revoke_secret(system=system, member=office, now=now)

        assert hand_in(client, firm, secret).status_code == 401

    def test_it_opens_no_other_door(self, client, firm, building, system, secret):
        for name, keys in (
            ("readings:api", {"system_id": system.pk}),
            ("readings:by_itself", {"system_id": system.pk}),
            ("register:building", {"building_id": building.pk}),
        ):
            answer = client.get(
                reverse(name, kwargs={"firm": firm.slug, **keys}),
                headers={"Authorization": f"Bearer {secret}"},
            )
            assert answer.status_code in (302, 401)

    def test_only_post(self, client, firm, secret):
        answer = client.get(door(firm), headers={"Authorization": f"Bearer {secret}"})

        assert answer.status_code == 405

    def test_too_many_files_within_the_hour(self, client, firm, secret, settings):
        settings.INTAKE_PER_HOUR = 1
        assert hand_in(client, firm, secret).status_code == 201

        assert hand_in(client, firm, secret).status_code == 429

    def test_too_many_wrong_keys(self, client, firm, secret):
        for _ in range(limits.WRONG_KEYS):
            assert hand_in(client, firm, "a" * 20).status_code == 401

        assert hand_in(client, firm, "a" * 20).status_code == 429
        assert hand_in(client, firm, secret).status_code == 201

    def test_what_cannot_be_read_is_a_sentence(self, client, firm, secret):
        answer = hand_in(client, firm, secret, b"%PDF-1.7")

        assert answer.status_code == 422
        assert answer.json()["detail"].startswith("This is a PDF")
        assert not Intake.objects.exists()

    @pytest.mark.parametrize("size", [2**20 + 1, 3 * 2**20])
    def test_what_is_too_large(self, client, firm, secret, settings, size):
        settings.UPLOAD_MAX_MB = 1

        assert hand_in(client, firm, secret, b"x" * size).status_code == 413

    def test_nothing_sent(self, client, firm, secret):
        assert hand_in(client, firm, secret, b"").json()["code"] == "no_file"
        empty = client.post(
            door(firm),
            {"file": SimpleUploadedFile("list.csv", b"")},
            headers={"Authorization": f"Bearer {secret}"},
        )
        assert (empty.status_code, empty.json()["code"]) == (400, "no_file")
        for form in ({}, {"file": "no file, but words"}):
            answer = client.post(door(firm), form, headers={"Authorization": f"Bearer {secret}"})
            assert (answer.status_code, answer.json()["code"]) == (400, "no_file")

    def test_a_good_one_can_be_accepted_alone(
        self, client, firm, building, system, office, secret, now
    ):
        services.set_ways(
            system=system, senders=[], accepts_alone=True, expected_days=None, member=office,
            now=now, today=now.date(),
        )  # fmt: skip
        first = services.take_in(
            building=building, system=system, filename="first.csv", data=LIST, member=office,
            now=now,
        )  # fmt: skip
        services.accept(intake=first, member=office, now=now)

        said = hand_in(client, firm, secret, LIST.replace(b"0.1\n", b"0.2\n")).json()

        assert (said["state"], said["rows"]["problem"]) == ("accepted", 0)
        assert not Reading.objects.filter(is_test=True).exists()


class TestMembersDoor:
    def address(self, system):
        return reverse("readings:api", kwargs={"firm": system.firm.slug, "system_id": system.pk})

    def test_takes_a_file_and_lists_it(self, signed_in, office, system):
        client = signed_in(office)
        made = client.post(self.address(system) + "?filename=a.csv", LIST, content_type="text/csv")
        listed = client.get(self.address(system)).json()["items"]

        assert made.status_code == 201
        assert [(one["filename"], one["state"]) for one in listed] == [("a.csv", "draft")]
        assert Intake.objects.get().received_by == office

    def test_lists_those_of_the_system_that_is_named(self, signed_in, office, building, system):
        client = signed_in(office)
        both = [system, factories.SystemFactory(building=building, name="Annexe")]
        for number, one in enumerate(both):
            path = f"{self.address(one)}?filename={number}.csv"
            client.post(path, LIST, content_type="text/csv")

        for number, one in enumerate(both):
            listed = client.get(self.address(one)).json()["items"]
            assert [row["filename"] for row in listed] == [f"{number}.csv"]

    def test_a_technician_may_look_but_not_send(self, signed_in, technician, system):
        client = signed_in(technician)

        assert client.get(self.address(system)).status_code == 200
        sent = client.post(self.address(system), LIST, content_type="text/csv")
        assert sent.status_code == 403
        assert not Intake.objects.exists()


class TestPage:
    @pytest.fixture
    def client(self, signed_in, office):
        return signed_in(office)

    def address(self, system, name="by_itself"):
        return reverse(
            f"readings:{name}", kwargs={"firm": system.firm.slug, "system_id": system.pk}
        )

    def test_the_secret_is_shown_once(self, client, system, settings):
        settings.INTAKE_ADDRESS, settings.INTAKE_MAILBOX = "in@driftbook.example", {"host": "x"}
        shown = client.post(self.address(system, "make_secret")).content.decode()
        again = client.get(self.address(system)).content.decode()

        hint = IntakeAddress.objects.get().hint
        secret = next(
            word for word in shown.replace("<", " ").replace(">", " ").split()
            if word.endswith(hint) and len(word) == 20
        )  # fmt: skip
        assert services.find_by_secret(secret=secret) is not None
        assert f"in+{system.firm.slug}.{secret}@driftbook.example" in shown
        assert secret not in again
        assert hint in again
        assert all(secret not in str(vars(line)) for line in AuditLine.objects.all())

    def test_can_be_revoked(self, client, system):
        client.post(self.address(system, "make_secret"))
        client.post(self.address(system, "revoke_secret"))

        assert IntakeAddress.objects.get().secret_sha256 == ""

    def test_keeps_senders_and_what_is_expected(self, client, system):
        client.post(
            self.address(system),
            {"senders": "Panel@Quillmarsh.example\n@watch.example", "expected_days": "7"},
        )

        address = IntakeAddress.objects.get()
        assert address.senders == ["panel@quillmarsh.example", "@watch.example"]
        assert (address.expected_days, address.accepts_alone) == (7, False)

    def test_a_wrong_sender_is_a_sentence_and_nothing_typed_is_lost(self, client, system):
        answer = client.post(self.address(system), {"senders": "the panel", "expected_days": "7"})

        assert answer.status_code == 422
        assert "the panel is no mail address" in answer.content.decode()
        assert 'value="7"' in answer.content.decode()

    def test_an_unknown_sender_is_marked_where_the_file_is_looked_at(
        self, client, building, system, now
    ):
        intake = services.take_in(
            building=building, system=system, filename="a.csv", data=LIST, member=None, now=now,
            came_by="mail", sender="x@elsewhere.example", sender_is_known=False,
        )  # fmt: skip
        page = client.get(
            reverse("readings:intake", kwargs={"firm": system.firm.slug, "intake_id": intake.pk})
        ).content.decode()

        assert "Unknown sender" in page
        assert "x@elsewhere.example" in page

    def test_the_original_is_given_byte_for_byte_and_never_shown(
        self, client, building, system, office, now
    ):
        intake = services.take_in(
            building=building, system=system, filename="a.csv", data=LIST, member=office, now=now
        )
        answer = client.get(
            reverse("readings:original", kwargs={"firm": system.firm.slug, "intake_id": intake.pk})
        )

        assert answer.content == LIST
        assert answer["Content-Disposition"] == 'attachment; filename="a.csv"'
        assert answer["Content-Type"] == "application/octet-stream"


class TestTwoSystems:
    def test_each_secret_opens_its_own(self, building, system, office, now, today):
        both = [system, factories.SystemFactory(building=building, name="Annexe")]
        secrets = [services.make_secret(system=one, member=office, now=now)[1] for one in both]
        found = [services.find_by_secret(secret=secret) for secret in secrets]
        assert [address.system for address in found] == both

        addresses.note_use(address=found[1], now=now)
        ways = {"senders": [], "accepts_alone": True, "member": office, "now": now}
        services.set_ways(system=both[0], **ways, expected_days=None, today=today)
        services.revoke_secret(system=both[1], member=office, now=now)

        first, second = (IntakeAddress.objects.get(system=one) for one in both)
        assert (first.last_used_at, second.last_used_at) == (None, now)
        assert (first.accepts_alone, second.accepts_alone) == (True, False)
        assert [bool(services.find_by_secret(secret=one)) for one in secrets] == [True, False]

    @pytest.mark.parametrize("days", [0, 367])
    def test_a_print_out_is_expected_within_a_year(self, system, office, now, today, days):
        with pytest.raises(services.UnableToSet, match="every 1 to 366 days"):
            services.set_ways(
                system=system, senders=[], accepts_alone=False, expected_days=days, member=office,
                now=now, today=today,
            )  # fmt: skip


class TestMissed:
    @pytest.fixture
    def weekly(self, system, office, now):
        return services.set_ways(
            system=system, senders=[], accepts_alone=False, expected_days=7, member=office,
            now=now, today=now.date(),
        )  # fmt: skip

    def missed(self, system, today):
        return queries.list_missed(firm_id=system.firm_id, today=today)

    def test_nothing_is_missing_where_nothing_is_expected(self, system, today):
        assert self.missed(system, today) == []

    @pytest.mark.parametrize(("days", "is_missed"), [(7, False), (8, False), (9, True)])
    def test_a_first_one_that_never_came(self, weekly, system, today, days, is_missed):
        found = self.missed(system, today + timedelta(days=days))

        assert bool(found) == is_missed

    def test_counts_from_the_last_that_came(self, weekly, building, system, office, now, today):
        services.take_in(
            building=building, system=system, filename="a.csv", data=LIST, member=office,
            now=now + timedelta(days=5),
        )  # fmt: skip

        assert self.missed(system, today + timedelta(days=13)) == []
        one = self.missed(system, today + timedelta(days=14))[0]
        assert (one.last_on, one.due_on) == (date(2026, 11, 30), date(2026, 12, 7))

    def test_what_could_not_be_read_does_not_count(self, weekly, system, today, now):
        Intake.objects.create(
            firm_id=system.firm_id, building=system.building, system=system, filename="x",
            sha256="", size=1, state="refused", received_at=now + timedelta(days=8),
        )  # fmt: skip

        assert self.missed(system, today + timedelta(days=9))

    def test_it_stands_on_the_start_page(self, weekly, system, signed_in, office, now):
        IntakeAddress.objects.update(expected_since=date(2026, 1, 1))
        page = (
            signed_in(office)
            .get(reverse("schedule:todo", kwargs={"firm": system.firm.slug}))
            .content.decode()
        )

        assert "print-out of Main system" in page

    def test_queries_do_not_grow_with_systems(
        self, weekly, building, today, office, now, django_assert_num_queries
    ):
        for n in range(5):
            other = factories.SystemFactory(building=building, name=f"System {n}")
            services.set_ways(
                system=other, senders=[], accepts_alone=False, expected_days=7, member=office,
                now=now, today=now.date(),
            )  # fmt: skip

        with django_assert_num_queries(1):
            found = queries.list_missed(firm_id=building.firm_id, today=today + timedelta(days=30))
        assert len(found) == 6
