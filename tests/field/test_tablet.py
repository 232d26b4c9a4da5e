"""The tablet's addresses, as a tablet speaks to them."""

import gzip
import hashlib
import json

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from contractor.field import queries, services
from contractor.field.models import Blob, Received, Review, Tablet
from contractor.field.tasks import apply_stored
from contractor.tenancy.models import FirmProfile
from contractor.visits.barriers import list_barriers
from contractor.visits.models import Entry
from tests import factories
from tests.field.paper import PaperTablet

PASS = {"task": "functional", "result": "pass"}


@pytest.fixture
def line(client, enrol, technician, visit, firm):
    """A signed-in technician's tablet on the line: line(method, path, body)."""
    row, key = enrol(technician)
    client.force_login(technician.user)
    headers = {"X-Tablet": str(row.pk), "X-Tablet-Key": key}

    def ask(method, path, body=None, **more):
        address = f"/field/{firm.slug}/{path}"
        if body is not None:
            more |= {"data": json.dumps(body), "content_type": "application/json"}
        return getattr(client, method)(
            address, headers={**headers, **more.pop("headers", {})}, **more
        )

    ask.row = row
    ask.paper = PaperTablet(row, technician, visit)
    return ask


class TestEnrol:
    def test_a_code_enrols_one_tablet_once(
        self, client, office, technician, firm, now, time_machine
    ):
        time_machine.move_to(now, tick=False)
        code, _ = services.make_code(name="Tablet 3", member=office, now=now)
        client.force_login(technician.user)

        first, second = (
            client.post(
                f"/field/{firm.slug}/enrol", {"code": code}, content_type="application/json"
            )
            for _ in range(2)
        )

        assert (first.status_code, first.json()["name"]) == (201, "Tablet 3")
        assert second.status_code == 400
        assert "was used" in second.json()["message"]
        assert Tablet.objects.count() == 1

    def test_a_code_ends_after_half_an_hour(self, office, technician, now):
        code, made = services.make_code(name="Tablet 3", member=office, now=now)

        with pytest.raises(services.UnableToEnrol, match="30 minutes"):
            services.enrol(code=code, member=technician, now=made.ends_at)


class TestPack:
    def test_holds_what_it_says(self, line, visit, devices):
        answer = line("get", f"visits/{visit.pk}/pack", headers={"Accept-Encoding": "gzip"})

        pack = json.loads(gzip.decompress(answer.content))
        for name, part in pack["manifest"]["parts"].items():
            text = pack["parts"][name].encode()
            assert (len(text), hashlib.sha256(text).hexdigest()) == (
                part["length"],
                part["sha256"],
            )
        rows = json.loads(pack["parts"]["devices"])
        assert [row["address"] for row in rows] == [device.address for device in devices]
        assert rows[0]["marked_high"] == 3.5
        assert rows[2]["tasks"] == ["functional"]

    def test_queries_do_not_grow_with_the_devices(self, line, visit, system):
        line("get", f"visits/{visit.pk}/pack")  # the first one makes what the others find
        counts = []
        for many in (2, 14):
            for number in range(many):
                device = factories.DeviceFactory(system=system, address=f"{many}-{number}")
                factories.VisitDeviceFactory(visit=visit, device=device)
                factories.ReadingFactory(device=device)
                factories.FindingFactory(building=visit.building, device=device)
            with CaptureQueriesContext(connection) as caught:
                line("get", f"visits/{visit.pk}/pack")
            counts.append(len(caught))

        assert counts[0] == counts[1] <= 44


class TestHello:
    def test_tells_the_persons_language_else_the_firms_else_the_browsers(
        self, line, visit, technician
    ):
        def told():
            return line("get", "hello?made=0", headers={"Accept-Language": "es"}).json()["language"]

        assert told() == "es"
        FirmProfile.objects.update(language="fr-ca")
        assert told() == "fr-ca"
        technician.user.language = "de"
        technician.user.save()
        assert told() == "de"

    def test_announces_before_anything_is_sent(self, line, visit, technician, now):
        services.hold(tablet=line.row, visit=visit, member=technician, now=now)

        said = line("get", f"hello?made=42&visit={visit.pk}:42:3&app=1&protected=no").json()

        holding = line.row.holding_set.get()
        line.row.refresh_from_db()
        assert (holding.announced, holding.photos, line.row.announced) == (42, 3, 42)
        assert line.row.is_protected is False
        assert (said["held"], said["member_name"]) == (0, "T. Varsk")
        assert said["csrf"]

    def test_sign_off_waits_for_what_was_announced(self, line, visit, technician, now):
        services.hold(tablet=line.row, visit=visit, member=technician, now=now)
        line.paper.save("note", body={"text": "Ladder needed."})
        line("get", f"hello?made=2&visit={visit.pk}:2:0")
        line("post", "entries", {"entries": line.paper.made})

        assert list_barriers(visit)[0].startswith(
            "Tablet 1: 2 entries announced, 1 received, 1 not."
        )


class TestEntries:
    def test_stores_each_and_answers_each(self, line, visit, devices):
        entry = line.paper.save("result", devices[0].pk, body=PASS)
        broken = {**line.paper.save("note", body={"text": "x"}), "body": {"text": "y"}}

        answers = line("post", "entries", {"entries": [entry, broken, {"what": 1}]}).json()

        assert [one["answer"] for one in answers["answers"]] == ["stored", "review", "review"]
        assert answers["answers"][1]["why"] == "broken"
        assert Received.objects.count() == 3
        stored = Entry.objects.get()
        assert str(stored.pk) == entry["id"]
        assert (stored.tablet, stored.sequence) == (str(line.row.pk), 1)

    def test_one_id_with_two_contents_keeps_both(self, line, devices):
        entry = line.paper.save("result", devices[0].pk, body=PASS)
        line("post", "entries", {"entries": [entry]})
        line.paper.made.clear()
        other = line.paper.save("note", devices[0].pk, body={"text": "x"}, id=entry["id"])

        answers = line("post", "entries", {"entries": [other]}).json()["answers"]

        assert answers[0]["why"] == "same_id"
        assert Received.objects.count() == 2

    @pytest.mark.parametrize(
        ("act", "why"),
        [
            (lambda line: services.revoke(tablet=line.row, member=line.member, now=line.now),
             "tablet_revoked"),
            (lambda line: type(line.member).objects.update(left_on="2026-11-25"), "author_left"),
            (lambda line: type(line.paper.visit).objects.update(state="cancelled"),
             "visit_closed"),
        ],
    )  # fmt: skip
    def test_what_cannot_count_is_kept_for_review(self, line, devices, technician, now, act, why):
        line.member, line.now = technician, now
        entry = line.paper.save("result", devices[0].pk, body=PASS)
        act(line)

        answer = line("post", "entries", {"entries": [entry]}).json()["answers"][0]

        assert (answer["answer"], answer["why"]) == ("review", why)
        assert not Entry.objects.exists()

    def test_somebody_else_sends_but_does_not_become_the_author(
        self, line, client, office, technician, devices
    ):
        entry = line.paper.save("result", devices[0].pk, body=PASS)
        client.force_login(office.user)

        assert line("post", "entries", {"entries": [entry]}).json()["answers"][0]["answer"] == (
            "stored"
        )
        assert Entry.objects.get().member == technician
        assert Received.objects.get().sent_by == office

    def test_an_author_who_never_signed_in_here_is_looked_at(self, line, office, devices):
        line.paper.member = office
        entry = line.paper.save("result", devices[0].pk, body=PASS)

        answer = line("post", "entries", {"entries": [entry]}).json()["answers"][0]

        assert answer["why"] == "author_unproven"

    def test_a_visit_begun_without_signal_takes_what_came_before_its_beginning(
        self, line, visit, devices, building
    ):
        from contractor.visits.cautions import list_cautions

        type(visit).objects.update(state="planned", began_at=None)
        result = line.paper.save("result", devices[0].pk, body=PASS)
        begin = line.paper.save(
            "begin",
            body={"notified": "desk 08:10", "cautions": list_cautions(building=building)},
        )

        first = line("post", "entries", {"entries": [result]}).json()["answers"][0]
        line("post", "entries", {"entries": [begin]})

        assert first["answer"] == "review"
        visit.refresh_from_db()
        assert visit.state == "under_way"
        assert Entry.objects.count() == 1
        assert not Review.objects.exists()

    def test_many_are_stored_first_and_entered_afterwards(self, line, visit, devices):
        for _ in range(services.AT_ONCE):
            line.paper.save("result", devices[0].pk, body=PASS)
        line.paper.save("result", devices[0].pk, body={**PASS, "task": "no such"})

        answers = line("post", "entries", {"entries": line.paper.made}).json()["answers"]

        assert {one["answer"] for one in answers} == {"stored"}
        assert Received.objects.count() == services.AT_ONCE + 1
        assert not Entry.objects.exists()
        assert any("11 entries are here and still being entered" in s for s in list_barriers(visit))

        apply_stored(firm_id=str(visit.firm_id), visit_id=str(visit.pk))

        assert Entry.objects.count() == services.AT_ONCE
        assert not any("being entered" in said for said in list_barriers(visit))
        # What could not be entered is told to its tablet with what others stated.
        passed = line("get", f"visits/{visit.pk}/passed?after=0").json()
        assert [(one["id"], one["why"]) for one in passed["reviews"]] == [
            (line.paper.made[-1]["id"], "refused")
        ]

    def test_what_was_lost_on_the_way_to_the_background_is_asked_for_again(
        self, line, visit, devices, monkeypatch, technician, now
    ):
        line.paper.save("result", devices[0].pk, body=PASS)
        with monkeypatch.context() as patch:
            patch.setattr("contractor.field.services.entering.AT_ONCE", 0)
            line("post", "entries", {"entries": line.paper.made})
        found = queries.list_visits_with_stored(firm_id=visit.firm_id, since=now)
        assert found == [visit.pk]

        line.paper.save("result", devices[2].pk, body=PASS)
        line("post", "entries", {"entries": line.paper.made})  # the next takes it along

        assert Entry.objects.count() == 2
        assert queries.list_visits_with_stored(firm_id=visit.firm_id, since=now) == []

    def test_an_error_in_one_keeps_no_other_out(self, line, devices, monkeypatch, caplog):
        line.paper.save("note", devices[0].pk, body={"text": "Ladder needed."})
        line.paper.save("result", devices[0].pk, body=PASS)

        def fail(**_):
            raise ZeroDivisionError

        with monkeypatch.context() as patch:
            patch.setattr("contractor.visits.services.note", fail)
            answers = line("post", "entries", {"entries": line.paper.made}).json()["answers"]

        assert [one["answer"] for one in answers] == ["review", "stored"]
        assert "error of this server" in answers[0]["said"]
        assert "could not be entered" in caplog.text

    def test_what_is_no_batch_is_told_so(self, line):
        for kind in ("text/plain", "application/x-www-form-urlencoded"):
            answer = line("post", "entries", data='{"entries": []}', content_type=kind)
            assert (answer.status_code, answer.json()["code"]) == (415, "batch")

    def test_too_many_at_once_are_told_so(self, line):
        assert line("post", "entries", {"entries": [{}] * 51}).status_code == 400


class TestBlobs:
    def put(self, line, data, start, piece, name=None):
        return line(
            "put",
            f"blobs/{name or hashlib.sha256(data).hexdigest()}",
            data=piece,
            content_type="application/octet-stream",
            headers={"X-Piece": f"{start}/{len(data)}"},
        )

    def test_goes_on_where_it_was_cut(self, line, firm):
        data = b"\xff\xd8" + bytes(range(256)) * 20
        self.put(line, data, 0, data[:3000])

        again = self.put(line, data, 0, data[:3000]).json()
        apart = self.put(line, data, 4000, data[4000:])
        last = self.put(line, data, 3000, data[3000:]).json()

        assert again == {"offset": 3000, "whole": False}
        assert (apart.status_code, apart.json()["offset"]) == (409, 3000)
        assert last == {"offset": len(data), "whole": True}
        from contractor.tenancy import files

        assert files.fetch(firm_id=firm.pk, sha256=hashlib.sha256(data).hexdigest()) == data

    def test_a_piece_has_its_size(self, line):
        data = bytes(services.PIECE + 1)

        assert self.put(line, data, 0, data).status_code == 413
        assert self.put(line, data, 0, data[:-1]).json()["offset"] == services.PIECE

    def test_is_not_believed_under_another_name(self, line):
        answer = self.put(line, b"one", 0, b"one", name=hashlib.sha256(b"two").hexdigest())

        assert answer.status_code == 409
        assert not Blob.objects.filter(completed_at__isnull=False).exists()
        assert self.put(line, b"two", 0, b"two").json()["whole"]
