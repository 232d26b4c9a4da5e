"""Found a firm on a new server."""

import io

import pytest
from django.core.management import CommandError, call_command

from contractor.tenancy.models import Firm, FirmProfile, Member, User
from contractor.tenancy.scope import scope

pytestmark = pytest.mark.django_db
GIVEN = {
    "slug": "moorgate",
    "name": "Moorgate Alarms (invented)",
    "email": "Principal@Moorgate.example",
    "person": "P. Hallow",
}
PASSWORD = "otter-under-glass"


def found(monkeypatch, *, password=PASSWORD, **changed):
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{password}\n"))
    said = io.StringIO()
    call_command("found_firm", **{**GIVEN, **changed}, stdout=said)
    return said.getvalue()


class TestFoundFirm:
    def test_its_principal_can_sign_in_and_see_the_start_page(self, client, monkeypatch):
        found(monkeypatch)

        answer = client.post(
            "/accounts/login/", {"login": "principal@moorgate.example", "password": PASSWORD}
        )

        assert answer.status_code == 302
        assert client.get("/", follow=True).redirect_chain[-1][0] == "/f/moorgate/"
        firm = Firm.objects.get(slug="moorgate")
        with scope(firm.pk):
            assert Member.objects.get().role == "principal"
            assert FirmProfile.objects.get().name == GIVEN["name"]

    def test_a_person_of_another_firm_keeps_their_password(self, monkeypatch):
        found(monkeypatch)
        said = found(monkeypatch, slug="second", password="something-else-entirely")

        user = User.objects.get()
        assert user.check_password(PASSWORD)
        assert "their own password" in said

    @pytest.mark.parametrize(
        ("changed", "why"),
        [
            ({"password": "short"}, "too short"),
            ({"slug": "two words"}, "slug"),
            ({"email": "nobody"}, "email"),
        ],
    )
    def test_what_cannot_be_is_refused_and_nothing_written(self, monkeypatch, changed, why):
        with pytest.raises(CommandError, match=why):
            found(monkeypatch, **changed)

        assert not Firm.objects.exists()
        assert not User.objects.exists()

    def test_a_firm_is_founded_once(self, monkeypatch):
        found(monkeypatch)

        with pytest.raises(CommandError, match="already"):
            found(monkeypatch, email="other@moorgate.example")

        assert User.objects.count() == 1
