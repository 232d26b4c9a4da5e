"""The firm's page, its logo, second factors, and an empty server."""

import io
import struct
import zlib

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import (
    TOTP,
    generate_totp_secret,
    hotp_value,
    yield_hotp_counters_from_time,
)
from django.core.management import call_command
from django.urls import reverse
from PIL import Image

from contractor.people import services
from contractor.tenancy.models import AuditLine, Firm, FirmProfile, User
from contractor.tenancy.scope import scope
from tests import factories
from tests.conftest import NOON

PASSWORD = "heron-gate-lantern-9"


def at(name, **keys):
    return reverse(name, kwargs={"firm": "tarnbeck", **keys})


@pytest.fixture
def principal(inside, firm):
    return factories.MemberFactory(firm=firm, role="principal", name="O. Brandl")


def picture(size=(1200, 400), form="PNG", **more):
    out = io.BytesIO()
    Image.new("RGB", size, "navy").save(out, form, **more)
    return out.getvalue()


def png_that_says(width, height):
    """Make the few bytes of a PNG whose head claims a size, and which holds no pixel."""

    def chunk(name, data):
        named = name + data
        return struct.pack(">I", len(data)) + named + struct.pack(">I", zlib.crc32(named))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", b"") + chunk(b"IEND", b"")


class TestLogo:
    def keep(self, firm, principal, data):
        profile = FirmProfile.objects.get()
        services.keep_logo(profile=profile, data=data, member=principal, now=NOON)

    def test_is_drawn_anew_and_nothing_else_is_kept(self, firm, principal, signed_in):
        exif = Image.Exif()
        exif[0x010E] = "secret place"
        self.keep(firm, principal, picture(form="JPEG", exif=exif.tobytes()) + b"<script>")

        answer = signed_in(principal).get(at("people:logo"))

        assert answer["Content-Type"] == "image/png"
        assert b"secret place" not in answer.content
        assert b"<script>" not in answer.content
        assert Image.open(io.BytesIO(answer.content)).size == (900, 300)

    @pytest.mark.parametrize(
        ("data", "said"),
        [
            (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "no picture that can be read"),
            (b"", "no picture that can be read"),
            (picture(form="GIF"), "no picture that can be read"),
            (picture(size=(6000, 4000)), "6000 times 4000 points"),
            (png_that_says(40_000, 30_000), "more points than can be drawn"),
            (b"x" * (4 * 2**20 + 1), "more than 4 MB"),
        ],
    )
    def test_refuses_what_is_none(self, firm, principal, data, said):
        with pytest.raises(services.UnableToSeat, match=said):
            self.keep(firm, principal, data)


def give_factor(user):
    return TOTP.activate(user, generate_totp_secret())


class TestSecondFactor:
    def change(self, client, **more):
        form = client.get(at("people:change_firm")).context["form"]
        sent = {name: form[name].value() or "" for name in form.fields} | more
        return client.post(at("people:change_firm"), sent, follow=True)

    def test_is_asked_of_everybody_once_who_asks_has_one(
        self, firm, principal, technician, signed_in
    ):
        client = signed_in(principal)
        said = self.change(client, needs_second_factor="on").content.decode()
        assert "Set up a second factor for yourself first" in said

        give_factor(principal.user)
        self.change(client, needs_second_factor="on")
        assert FirmProfile.objects.get().needs_second_factor
        assert client.get(at("visits:list")).status_code == 200
        assert client.get(at("people:list")).status_code == 200

        theirs = signed_in(technician)
        led = theirs.get(at("visits:list"))
        assert led.url == reverse("mfa_index")
        give_factor(technician.user)
        assert theirs.get(at("visits:list")).status_code == 200

    def test_signs_in_with_a_code_and_keeps_its_secret_closed(self, client, firm, technician):
        user = technician.user
        user.set_password(PASSWORD)
        user.save()
        secret = generate_totp_secret()
        TOTP.activate(user, secret)
        assert secret not in str(Authenticator.objects.get(type="totp").data)

        step = client.post(
            reverse("account_login"), {"login": user.email, "password": PASSWORD}, follow=True
        )
        assert step.redirect_chain[-1][0].startswith(reverse("mfa_authenticate"))
        assert client.get(at("visits:list")).status_code == 302  # not in yet
        counter = next(iter(yield_hotp_counters_from_time()))
        code = f"{hotp_value(secret, counter):06d}"
        client.post(reverse("mfa_authenticate"), {"code": code}, follow=True)
        assert client.get(at("visits:list")).status_code == 200

    def test_the_operator_resets_it_and_the_firm_reads_so(self, firm, technician):
        give_factor(technician.user)

        call_command("reset_second_factor", email=technician.user.email, why="phone lost")

        assert not Authenticator.objects.filter(user=technician.user).exists()
        line = AuditLine.objects.get(subject_id=technician.pk)
        assert (line.actor, line.summary) == ("the server's operator", "phone lost")

    @pytest.mark.parametrize(
        "name",
        [
            "mfa_index",
            "mfa_activate_totp",
            "mfa_add_webauthn",
            "mfa_list_webauthn",
            "usersessions_list",
        ],
    )
    def test_the_pages_open_in_our_look(self, client, firm, technician, name):
        user = technician.user
        user.set_password(PASSWORD)
        user.save()
        client.post(reverse("account_login"), {"login": user.email, "password": PASSWORD})
        again = client.get(reverse("mfa_activate_totp"))  # asks for the password once more
        assert again.url.startswith(reverse("account_reauthenticate"))
        client.post(reverse("account_reauthenticate"), {"password": PASSWORD})

        page = client.get(reverse(name))

        assert page.status_code == 200
        assert "Driftbook</a>" in page.content.decode()
        assert "<style" not in page.content.decode()


@pytest.mark.django_db
class TestSetUp:
    SENT = {
        "firm": "Tarnbeck Alarm Service",
        "slug": "",
        "time_zone": "America/Chicago",
        "obscuration_unit": "%/ft",
        "paper": "letter",
        "name": "O. Brandl",
        "email": "o.brandl@example.org",
        "password": PASSWORD,
    }

    def test_founds_the_first_firm_in_the_browser(self, client, mailoutbox):
        assert client.get("/").url == reverse("set_up")
        assert client.get(reverse("set_up")).status_code == 200

        page = client.post(reverse("set_up"), self.SENT, follow=True)

        assert page.redirect_chain[-1][0] == "/f/tarnbeck-alarm-service/"
        text = page.content.decode()
        assert "A test mail is on its way" in text
        assert "To begin with" in text
        assert "Add a building" in text
        assert [mail.to for mail in mailoutbox] == [['"O. Brandl" <o.brandl@example.org>']]
        firm = Firm.objects.get()
        with scope(firm.pk):
            assert FirmProfile.objects.get().time_zone == "America/Chicago"

    def test_closes_with_the_first_firm(self, client, firm):
        assert client.get(reverse("set_up")).url == reverse("home")
        client.post(reverse("set_up"), self.SENT)
        assert not User.objects.filter(email="o.brandl@example.org").exists()
        with pytest.raises(services.UnableToSeat, match="has been set up"):
            services.set_up(
                slug="x", firm="x", email="x@example.org", name="x", password=PASSWORD, now=NOON
            )

    def test_says_what_is_wrong_and_loses_nothing(self, client):
        said = client.post(
            reverse("set_up"), self.SENT | {"time_zone": "Chicago", "password": "short"}
        ).content.decode()

        assert "Write it as America/Chicago" in said
        assert 'value="Tarnbeck Alarm Service"' in said
        assert not Firm.objects.exists()
