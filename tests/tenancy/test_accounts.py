"""What an account does with its password, its factors and its sessions (docs/asvs.md, 6, 7)."""

import re

import pytest
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import (
    TOTP,
    generate_totp_secret,
    hotp_value,
    yield_hotp_counters_from_time,
)
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from contractor.tenancy.accounts import SealedFactors
from tests.tenancy.conftest import PASSWORD

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fresh_counts")]
NEW = "  Öre mist 火 tin, candle  "


@pytest.fixture
def inside(person):
    """Two browsers of the same person."""
    both = Client(), Client()
    for one in both:
        assert sign_in(one, person, PASSWORD)
    return both


def sign_in(client, user, password):
    client.post(reverse("account_login"), {"login": user.email, "password": password})
    return is_in(client)


def is_in(client):
    return client.get("/f/tarnbeck/").status_code == 200


def change(client, old, new):
    return client.post(
        reverse("account_change_password"), {"oldpassword": old, "password1": new, "password2": new}
    )


def code_of(secret):
    return f"{hotp_value(secret, next(iter(yield_hotp_counters_from_time()))):06d}"


class TestPassword:
    @pytest.mark.parametrize("password", ["å" * 128, "only small letters", "9" * 11 + "q"])
    def test_no_kind_of_letter_is_asked_for_and_long_ones_are_taken(self, password, person):
        validate_password(password, person)
        person.set_password(password)
        assert person.check_password(password)

    def test_eleven_are_too_few(self, person):
        with pytest.raises(ValidationError, match="12"):
            validate_password("heron-gate-", person)

    @pytest.mark.parametrize(
        "password",
        [
            "Driftbook-2026",
            "tarnbeck.tarnbeck",
            "Smoke_Detector 7",
            "localhost12345",
            "TARNBECK-alarm1",
        ],
    )
    def test_names_of_this_place_are_not_enough(self, password, person):
        """ASVS 6.1.2, 6.2.11; their mail address and name are Django's to look at."""
        with pytest.raises(ValidationError, match="Whoever guesses begins with"):
            validate_password(password, person)

    @pytest.mark.parametrize("password", ["driftbook kettle umbra", "wexholt-2026-q"])
    def test_beside_other_words_or_of_another_firm_they_are(self, password, person):
        validate_password(password, person)

    def test_is_masked_and_may_be_pasted(self, client):
        page = client.get(reverse("account_login")).content.decode()
        field = re.search(r"<input[^>]*name=\"password\"[^>]*>", page)[0]

        assert 'type="password"' in field
        assert "onpaste" not in page
        assert 'autocomplete="current-password"' in field

    def test_changing_asks_for_the_old_one(self, inside, person):
        change(inside[0], "not-the-password", NEW)

        person.refresh_from_db()
        assert person.check_password(PASSWORD)

    def test_a_new_one_is_taken_as_typed_and_ends_the_other_sessions(self, inside, person):
        change(inside[0], PASSWORD, NEW)

        person.refresh_from_db()
        assert person.check_password(NEW)
        assert not person.check_password(NEW.strip())
        assert not is_in(inside[1])
        assert sign_in(Client(), person, NEW)

    def test_a_reset_does_not_stand_in_for_the_second_factor(self, client, person, mailoutbox):
        TOTP.activate(person, generate_totp_secret())
        client.post(reverse("account_reset_password"), {"email": person.email})
        link = re.search(r"http://[^/]+(/\S+)", mailoutbox[0].body)[1]
        form = client.get(link, follow=True)

        client.post(form.redirect_chain[-1][0], {"password1": NEW, "password2": NEW}, follow=True)

        person.refresh_from_db()
        assert person.check_password(NEW)
        assert not is_in(client)
        assert not sign_in(client, person, NEW)


class TestFactors:
    @pytest.mark.parametrize(
        "name", ["mfa_activate_totp", "mfa_add_webauthn", "mfa_generate_recovery_codes"]
    )
    def test_changing_them_asks_for_the_password_again(self, name, person):
        TOTP.activate(person, generate_totp_secret())
        client = Client()
        client.force_login(person)

        answer = client.get(reverse(name))

        assert answer.url.startswith(reverse("account_reauthenticate"))

    def test_a_code_is_taken_once(self, person):
        secret = generate_totp_secret()
        TOTP.activate(person, secret)
        code = code_of(secret)

        assert self.tries(person, code)
        assert not self.tries(person, code)

    def test_a_code_of_two_minutes_ago_is_not_taken(self, person, time_machine):
        secret = generate_totp_secret()
        TOTP.activate(person, secret)
        time_machine.move_to("2026-11-25 12:00:00+00:00", tick=False)
        code = code_of(secret)

        time_machine.move_to("2026-11-25 12:02:00+00:00", tick=False)

        assert not self.tries(person, code)

    def test_a_recovery_code_is_taken_once(self, person):
        TOTP.activate(person, generate_totp_secret())
        code = RecoveryCodes.activate(person).get_unused_codes()[0]

        assert self.tries(person, code)
        assert not self.tries(person, code)

    def tries(self, person, code):
        """Sign in afresh with a code."""
        client = Client()
        assert not sign_in(client, person, PASSWORD)
        client.post(reverse("mfa_authenticate"), {"code": code})
        return is_in(client)

    def test_codes_for_recovery_do_not_lie_readable_in_the_database(self, person):
        """ASVS 6.5.2, and the secret of the app with codes."""
        secret = generate_totp_secret()
        TOTP.activate(person, secret)
        codes = RecoveryCodes.activate(person)
        seed = SealedFactors().decrypt(codes.instance.data["seed"])
        kept = str(list(Authenticator.objects.filter(user=person).values_list("data", flat=True)))

        assert seed
        assert len(codes.get_unused_codes()) == 10
        assert [one for one in (secret, seed, *codes.get_unused_codes()) if one in kept] == []


class TestSessions:
    def test_ends_two_weeks_after_the_sign_in_however_busy(self, person, time_machine):
        """ASVS 7.1.1, 7.3: as docs/operating.md says."""
        time_machine.move_to("2026-11-01 12:00:00+00:00", tick=False)
        client = Client()
        assert sign_in(client, person, PASSWORD)

        for day in range(2, 15):
            time_machine.move_to(f"2026-11-{day:02} 12:00:00+00:00", tick=False)
            assert is_in(client)
        time_machine.move_to("2026-11-15 12:00:01+00:00", tick=False)

        assert not is_in(client)

    def test_a_key_from_before_the_sign_in_opens_nothing(self, client, person):
        """ASVS 7.2.4."""
        client.get(reverse("account_login"))
        session = client.session
        session["planted"] = True
        session.save()
        planted = client.cookies["sessionid"].value

        assert sign_in(client, person, PASSWORD)

        assert client.cookies["sessionid"].value != planted
        other = Client()
        other.cookies["sessionid"] = planted
        assert not is_in(other)

    def test_a_password_does_not_grow_old(self, client, person, time_machine):
        """ASVS 6.2.10."""
        time_machine.move_to("2036-11-25 12:00:00+00:00", tick=False)

        assert sign_in(client, person, PASSWORD)

    def test_each_is_listed_and_the_others_can_be_ended(self, inside):
        page = inside[0].get(reverse("usersessions_list")).content.decode()
        assert page.count("127.0.0.1") == 2

        inside[0].post(reverse("usersessions_list"))

        assert is_in(inside[0])
        assert not is_in(inside[1])

    def test_its_key_says_nothing_and_ends_on_the_server(self, inside):
        client = inside[0]
        key = client.cookies["sessionid"].value
        assert re.fullmatch(r"[a-z0-9]{32}", key)

        client.post(reverse("account_logout"))
        client.cookies["sessionid"] = key

        assert not is_in(client)

    @pytest.mark.parametrize("to", ["https://e.example/", "//e.example", "/\\e.example"])
    def test_signing_in_leads_to_no_other_host(self, client, person, to):
        answer = client.post(
            reverse("account_login"), {"login": person.email, "password": PASSWORD, "next": to}
        )

        assert answer.status_code == 302
        assert answer.url == "/"
