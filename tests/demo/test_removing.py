"""What the demo made up goes whole, and nothing else does."""

from importlib import import_module

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import DatabaseError, connection, connections, transaction
from django.urls import reverse

from contractor.demo import removing, services
from contractor.tenancy import files, wall
from contractor.tenancy.models import Firm, FirmModel, FirmProfile, Member, User
from contractor.tenancy.scope import scope
from contractor.tenancy.services import found_firm
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.fixture
def invented(now, monkeypatch):
    """The scenario's smaller firm alone: what goes does not depend on how much it is."""
    monkeypatch.setattr(services.scenario, "CONTRACTORS", services.scenario.CONTRACTORS[1:])
    services.fill(now=now, say=lambda line: None)
    return Firm.objects.get(slug="wexholt")


@pytest.fixture
def founded(firm):
    """A firm that somebody founded, with its office."""
    with scope(firm.pk):
        return factories.MemberFactory(firm=firm, role="office")


def count_rows(firm) -> dict[str, int]:
    """Count a firm's rows in every table that has firms."""
    with scope(firm.pk):
        return {
            model._meta.label: model._base_manager.filter(firm_id=firm.pk).count()
            for model in apps.get_models()
            if issubclass(model, FirmModel)
        }


def test_all_of_it_goes_from_its_page_and_another_firm_stays(
    invented, founded, client, django_capture_on_commit_callbacks
):
    with scope(invented.pk):
        member = Member.objects.select_related("user").get(role="office")
        kept = files.keep(firm_id=invented.pk, data=b"a photograph")
        people = set(Member.objects.values_list("user_id", flat=True))
    assert sum(count_rows(invented).values()) > 1000
    before = count_rows(founded.firm)
    page = reverse("demo:remove", kwargs={"firm": invented.slug})

    client.force_login(member.user)
    shown = client.get(page).content.decode()
    assert member.user.email in shown
    assert "Remove everything invented" in shown
    with django_capture_on_commit_callbacks(execute=True):
        assert client.post(page).url == reverse("home")

    assert not any(count_rows(invented).values())
    assert not Firm.objects.filter(pk=invented.pk).exists()
    assert not User.objects.filter(pk__in=people).exists()
    assert "_auth_user_id" not in client.session
    with pytest.raises(FileNotFoundError):
        files.fetch(firm_id=invented.pk, sha256=kept)
    assert count_rows(founded.firm) == before


def test_the_command_tells_first(founded, capsys):
    firm = found_firm(slug="wexholt", name="Wexholt Fire Protection", is_invented=True)

    call_command("remove_demo")
    assert "Nothing was removed" in capsys.readouterr().out
    assert Firm.objects.filter(pk=firm.pk).exists()

    call_command("remove_demo", "--yes")
    assert "Removed: 1 invented firm" in capsys.readouterr().out
    assert list(Firm.objects.all()) == [founded.firm]


@pytest.mark.parametrize(
    "change",
    [
        "select demo_remove_firm()",
        "update tenancy_firmprofile set is_invented = true",
        "delete from visits_sealedrecord",
    ],
)
def test_the_database_refuses_to_remove_what_somebody_founded(founded, change):
    with scope(founded.firm_id):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(change)
        assert not FirmProfile.objects.get().is_invented


def test_a_founded_firm_has_nothing_to_remove(founded, client):
    with pytest.raises(removing.UnableToRemove, match="made up"):
        removing.remove(firm=founded.firm)
    client.force_login(founded.user)
    page = reverse("demo:remove", kwargs={"firm": founded.firm.slug})
    shown = client.get(page).content.decode()
    assert "Nothing of this firm was made up" in shown
    assert "Remove everything invented" not in shown
    assert client.post(page).status_code == 404


@pytest.mark.django_db(transaction=True, databases=["default", "owner"])
def test_what_an_older_demo_filled_goes_and_a_firm_with_a_real_person_stays():
    """Older demos did not say that a firm was made up; a later migration knows theirs."""
    firms = {}
    for slug, more in (("tarnbeck", "second@tarnbeck.example"), ("wexholt", "ann@firm.test")):
        firms[slug] = found_firm(slug=slug, name=f"{slug} (invented)")
        with scope(firms[slug].pk):
            for email in (f"office@{slug}.example", more):
                user = User.objects.create(email=email)
                factories.MemberFactory(firm=firms[slug], user=user, role="office")
    assert removing.list_invented() == []

    migration = import_module("contractor.demo.migrations.0002_know_older_demos")
    with transaction.atomic("owner"), connections["owner"].cursor() as cursor:
        cursor.execute(migration.KNOW)

    assert [one.firm for one in removing.list_invented()] == [firms["tarnbeck"]]
    assert removing.remove_invented() == 1
    assert list(Firm.objects.all()) == [firms["wexholt"]]
    assert sorted(User.objects.values_list("email", flat=True)) == [
        "ann@firm.test",
        "office@wexholt.example",
    ]
    with connections["owner"].cursor() as cursor:  # the wall and the trigger stand again
        cursor.execute(wall.TABLES)
        forced = [forced for _table, has_firm, forced, _policies in cursor if has_firm]
    assert forced
    assert all(forced)
    with scope(firms["wexholt"].pk), pytest.raises(DatabaseError), transaction.atomic():
        FirmProfile.objects.update(is_invented=True)
