"""The office's pages about tablets, and its decisions."""

import hashlib
import io
import json
import struct
import zlib
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone, translation
from PIL import Image

from contractor.field import services
from contractor.field.models import Applied, Received, Review, Tablet
from contractor.tenancy.keys import uuid7
from contractor.tenancy.models import Member
from contractor.visits import services as visits
from contractor.visits.barriers import list_barriers
from contractor.visits.models import Entry, Visit
from tests.field.paper import PaperTablet

PASS = {"task": "functional", "result": "pass"}


@pytest.fixture
def page(signed_in, office, firm):
    """Open a page of the office: page(name, **keys)."""
    client = signed_in(office)

    def ask(name, post=None, **keys):
        address = reverse(f"tablets:{name}", kwargs={"firm": firm.slug, **keys})
        return client.get(address) if post is None else client.post(address, post, follow=True)

    return ask


@pytest.fixture
def late(tablet, visit, devices, technician, now):
    """An entry whose author has left: kept for review."""
    entry = tablet.save("result", devices[0].pk, body=PASS)
    Member.objects.filter(pk=technician.pk).update(left_on=now.date())
    services.take_in(tablet=tablet.row, sender=technician, entries=[entry], now=now)
    return Review.objects.get()


class TestTablets:
    def test_an_empty_list_says_what_to_do(self, page):
        assert "Make a code below" in page("list").content.decode()

    def test_a_code_is_shown_once_and_enrols(self, page, technician, now):
        shown = page("make_code", {"name": "Tablet 3"}).content.decode()

        digits = shown.split('<span class="mono">')[1].split("<")[0]
        tablet, _ = services.enrol(code=digits, member=technician, now=now)
        assert tablet.name == "Tablet 3"
        assert digits not in page("list").content.decode()

    def test_announced_stands_against_received(self, page, tablet, technician, now):
        tablet.announce(37, now=now)
        tablet.save("note", body={"text": "Ladder needed."})
        services.take_in(tablet=tablet.row, sender=technician, entries=tablet.made, now=now)

        assert "37 announced, 1 received; later work unknown" in page("list").content.decode()
        shown = page("tablet", tablet_id=tablet.row.pk).content.decode()
        assert "37 entries announced, 1 received, 36 not." in shown

    @pytest.mark.parametrize(("hours", "is_silent"), [(49, True), (47, False)])
    def test_a_silent_tablet_with_a_visit_under_way_is_asked_after(
        self, page, tablet, visit, hours, is_silent
    ):
        seen_at = timezone.now() - timedelta(hours=hours)
        Tablet.objects.update(seen_at=seen_at)

        shown = page("list").content.decode()

        assert ("has not spoken for two days" in shown) == is_silent
        local = seen_at.astimezone(ZoneInfo(visit.building.time_zone))
        assert f"{local:%H:%M}" in shown  # by the firm's clock, which is its building's here
        Visit.objects.update(state="to_review")
        assert "has not spoken for two days" not in page("list").content.decode()

    def test_queries_do_not_grow_with_the_tablets(
        self, page, enrol, technician, django_assert_max_num_queries
    ):
        for number in range(6):
            enrol(technician, name=f"Tablet {number}")
        with django_assert_max_num_queries(16):
            page("list")

    def test_a_revoked_tablet_stays_on_the_list(self, page, tablet):
        shown = page("revoke", {}, tablet_id=tablet.row.pk).content.decode()

        assert "is revoked" in shown
        assert Tablet.objects.get().revoked_at is not None

    def test_a_changed_link_of_the_chain_shows(self, page, tablet, technician, now):
        tablet.save("note", body={"text": "one"})
        tablet.save("note", body={"text": "two"}, prev="0" * 64)
        services.take_in(tablet=tablet.row, sender=technician, entries=tablet.made, now=now)

        shown = page("tablet", tablet_id=tablet.row.pk).content.decode()
        assert "Entry 2 does not follow the one before it" in shown


class TestDecide:
    def test_taken_it_counts_in_its_authors_name(self, page, late, technician):
        page("decide", {"take": "yes", "reason": "He tested it."}, review_id=late.pk)

        entry = Entry.objects.get()
        assert (entry.member, entry.result) == (technician, "pass")
        assert Applied.objects.count() == 1
        late.refresh_from_db()
        assert (late.is_taken, late.reason) == (True, "He tested it.")

    def test_what_waits_names_its_device_and_the_buildings_time(self, page, late, devices, visit):
        local = late.received.made_at.astimezone(ZoneInfo(visit.building.time_zone))

        for shown in (page("list"), page("of_visit", visit_id=visit.pk)):
            assert f'on <span class="address">{devices[0].address}</span>' in shown.content.decode()
            assert f"{local:%H:%M %Z}</b>" in shown.content.decode()

    def test_left_out_it_stays_on_record(self, page, late):
        page("decide", {"take": "no", "reason": "Made after he left."}, review_id=late.pk)

        assert not Entry.objects.exists()
        assert Received.objects.count() == 1

    def test_without_a_reason_nothing_is_decided(self, page, late):
        shown = page("decide", {"take": "yes", "reason": " "}, review_id=late.pk)

        assert "Say why; the reason stays with the entry." in shown.content.decode()
        late.refresh_from_db()
        assert late.resolved_at is None

    def test_the_sign_off_waits_for_it(self, late, visit):
        assert any("waits for review" in said for said in list_barriers(visit))

    def test_of_a_closed_visit_it_is_left_out_or_the_record_amended(self, page, late):
        Visit.objects.update(state="signed_off")

        shown = page("decide", {"take": "yes", "reason": "x"}, review_id=late.pk)
        assert "Amend the record instead." in shown.content.decode()


class TestExcuse:
    def test_a_lost_tablet_is_excused_and_the_record_says_so(
        self, page, tablet, visit, technician, office, now
    ):
        tablet.announce(42, now=now)
        visits.hand_in(
            visit=visit,
            notified_after="Ellory Central 11:40",
            reason_for_rest="Room locked",
            member=technician,
            now=now,
        )
        assert "42 entries announced, 0 received, 42 not." in list_barriers(visit)[0]

        page(
            "excuse",
            {"reason": "Dropped into the sump"},
            visit_id=visit.pk,
            tablet_id=tablet.row.pk,
        )

        assert list_barriers(visit) == []
        note = Entry.objects.get(kind="note")
        assert "Signed off without Tablet 1: 42 entries announced, 0 received" in note.text
        assert "Dropped into the sump" in note.text
        assert note.member == office


class TestRescue:
    @pytest.fixture
    def sealed(self, enrol, technician, visit, devices, firm, now):
        """A rescue file, sealed as the tablet seals it."""
        import base64
        import hashlib
        import hmac
        import os

        from cryptography.hazmat.primitives import serialization
        from cryptography.hazmat.primitives.ciphers.aead import AESGCM

        from contractor.field.services.rescue import _OAEP

        enrol(technician, name="Tablet 2")
        row, key = enrol(technician)
        enrol(technician, name="Tablet 3")
        tablet = PaperTablet(row, technician, visit)
        for device in devices:
            tablet.save("result", device.pk, body=PASS)
        public = serialization.load_der_public_key(
            base64.b64decode(services.get_public_key(firm_id=firm.pk))
        )
        secret, iv = os.urandom(32), os.urandom(12)
        box = AESGCM(secret).encrypt(
            iv, json.dumps({"entries": tablet.made, "photos": []}).encode(), None
        )
        wrapped = public.encrypt(secret, _OAEP)
        proof = hmac.new(
            hashlib.sha256(key.encode()).hexdigest().encode(), wrapped + iv + box, hashlib.sha256
        )
        return {
            "tablet": str(row.pk),
            "key": base64.b64encode(wrapped).decode(),
            "iv": base64.b64encode(iv).decode(),
            "data": base64.b64encode(box).decode(),
            "proof": proof.hexdigest(),
        }

    def bring(self, page, sealed):
        file = SimpleUploadedFile("t.rescue.json", json.dumps(sealed).encode())
        return page("bring_in", {"file": file}).content.decode()

    def test_brings_everything_in_once(self, page, sealed):
        assert "4 entries stored, 0 were here already" in self.bring(page, sealed)
        assert "0 entries stored, 4 were here already" in self.bring(page, sealed)
        assert Entry.objects.count() == 4

    def test_one_of_a_tablet_that_is_nobodys_is_refused(self, page, sealed):
        sealed["tablet"] = str(uuid7())

        assert "is not enrolled here" in self.bring(page, sealed)
        assert not Entry.objects.exists()

    def test_one_that_was_altered_is_refused(self, page, sealed):
        sealed["data"] = "AAAA" + sealed["data"][4:]

        assert "was not sealed by Tablet 1, or was altered since" in self.bring(page, sealed)
        assert not Entry.objects.exists()

    def test_anything_else_is_refused(self, page, sealed):
        assert "no rescue file" in self.bring(page, {"a": 1})


def picture(width, height):
    """A photo that says in its own head who took it."""
    exif = Image.Exif()
    exif[0x013B] = "T. Varsk, 555 0190"
    out = io.BytesIO()
    Image.new("RGB", (width, height), "grey").save(out, "JPEG", exif=exif)
    return out.getvalue()


def bomb():
    """Eighty bytes of PNG that would unpack to 50,000 by 50,000 points."""
    head = struct.pack(">IIBBBBB", 50_000, 50_000, 8, 2, 0, 0, 0)
    chunk = struct.pack(">I", len(head)) + b"IHDR" + head
    return b"\x89PNG\r\n\x1a\n" + chunk + struct.pack(">I", zlib.crc32(b"IHDR" + head))


@pytest.mark.parametrize(
    "data", [bomb(), b"\xff\xd8" + b"x" * 500, b"<svg onload='alert(1)'/>", b"GIF89a" + b"x" * 40]
)
def test_what_is_no_photo_is_a_file_and_nothing_else(
    page, tablet, visit, technician, office, devices, now, data
):
    name = hashlib.sha256(data).hexdigest()
    photos = [{"sha256": name, "length": len(data)}]
    tablet.save("note", devices[0].pk, body={"text": "Photo."}, photos=photos)
    services.take_in(tablet=tablet.row, sender=technician, entries=tablet.made, now=now)
    services.take_piece(
        tablet=tablet.row, sha256=name, start=0, length=len(data), piece=data, now=now
    )
    shown = page("photo", photo_id=Received.objects.get().photo_set.get().pk)
    assert shown["Content-Type"] == "application/octet-stream"
    assert shown["Content-Disposition"].startswith("attachment")
    assert shown.content == data


def test_a_photo_is_shown_only_once_it_is_whole(
    page, tablet, visit, technician, office, devices, now
):
    data = picture(3000, 20)
    name = hashlib.sha256(data).hexdigest()
    tablet.save(
        "note",
        devices[0].pk,
        body={"text": "Photo."},
        photos=[{"sha256": name, "length": len(data)}],
    )
    services.take_in(tablet=tablet.row, sender=technician, entries=tablet.made, now=now)
    key = Received.objects.get().photo_set.get().pk

    assert page("photo", photo_id=key).status_code == 404
    assert any("still on a tablet" in said for said in list_barriers(visit))
    services.take_piece(
        tablet=tablet.row, sha256=name, start=0, length=len(data), piece=data, now=now
    )
    shown = page("photo", photo_id=key)
    assert shown["Content-Type"] == "image/jpeg"
    with Image.open(io.BytesIO(shown.content)) as drawn:  # anew, pixels only
        assert drawn.size == (2000, 13)
        assert not drawn.getexif()
    assert b"555 0190" not in shown.content
    assert not any("still on a tablet" in said for said in list_barriers(visit))


def test_why_an_entry_waits_is_kept_in_english(tablet, devices, technician, now):
    said = {"field": "label", "before": "Not what stands", "after": "Servery"}
    tablet.save("attribute", devices[0].pk, body=said)

    with translation.override("de"):
        services.take_in(tablet=tablet.row, sender=technician, entries=tablet.made, now=now)

    assert f"its label is “{devices[0].label}” now" in Review.objects.get().sentence
