"""Sign-in: by mail address and password, nobody signs up, guessing is slowed, headers hold."""

import pytest
from django.urls import reverse

from contractor.tenancy.models import User
from contractor.tenancy.scope import scope
from tests import factories
from tests.tenancy.conftest import PASSWORD

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fresh_counts")]


def sign_in(client, user, password):
    return client.post(
        reverse("account_login"), {"login": user.email, "password": password}, follow=True
    )


class TestSignIn:
    def test_leads_to_what_needs_doing(self, client, person):
        answer = sign_in(client, person, PASSWORD)

        assert answer.redirect_chain[-1][0] == "/f/tarnbeck/"
        assert b"What needs doing" in answer.content

    def test_passwords_are_kept_by_argon2(self, person):
        assert person.password.startswith("argon2$argon2id$")

    def test_a_wrong_password_says_nothing_of_the_address(self, client, person):
        wrong = sign_in(client, person, "not-the-password")
        unknown = client.post(
            reverse("account_login"), {"login": "nobody@example.org", "password": "x"}
        )

        said = [answer.context["form"].non_field_errors() for answer in (wrong, unknown)]
        assert said[0] == said[1]
        assert said[0]

    def test_guessing_is_stopped_after_five_tries(self, client, person):
        for _ in range(5):
            sign_in(client, person, "not-the-password")
        answer = sign_in(client, person, PASSWORD)

        assert answer.status_code == 429 or not answer.wsgi_request.user.is_authenticated

    def test_nobody_signs_up(self, client):
        client.post(reverse("account_signup"), {"email": "new@example.org", "password1": PASSWORD})

        assert not User.objects.filter(email="new@example.org").exists()

    def test_where_somebody_has_two_seats_they_choose(self, client, person, other_firm):
        with scope(other_firm.pk):
            factories.MemberFactory(firm=other_firm, user=person)
        answer = sign_in(client, person, PASSWORD)

        assert b"/f/tarnbeck/" in answer.content
        assert b"/f/wexholt/" in answer.content


class TestHeaders:
    @pytest.mark.parametrize("path", ["/accounts/login/", "/healthz", "/no-such-page"])
    def test_no_inline_style_or_foreign_source_is_allowed(self, client, path):
        policy = client.get(path).headers["Content-Security-Policy"]

        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "http" not in policy

    def test_pages_of_signed_in_people_are_not_kept(self, client, person):
        client.force_login(person)
        headers = client.get("/f/tarnbeck/").headers

        assert headers["Cache-Control"] == "private, no-store"
        assert headers["X-Frame-Options"] == "DENY"
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "same-origin"


class TestHealth:
    def test_ready_names_what_answers_and_no_firm(self, client, firm):
        answer = client.get("/readyz")

        assert set(answer.json().values()) == {True}
