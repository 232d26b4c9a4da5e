"""Lists kept under a name, and the history of a thing."""

import pytest
from django.urls import reverse

from contractor.tenancy.models import AuditLine, SavedList
from contractor.tenancy.services import keep_changes
from contractor.web.keeping import list_differences
from tests.conftest import NOON


def at(name, **keys):
    return reverse(name, kwargs={"firm": "tarnbeck", **keys})


def keep(client, **more):
    sent = {"page": "findings:list", "name": "untold", "query": "show=untold&page=3"} | more
    return client.post(at("keep_list"), sent, follow=True)


class TestKeptLists:
    def test_keeps_the_filters_and_opens_with_them(self, signed_in, office):
        client = signed_in(office)

        page = keep(client)

        assert page.redirect_chain[-1][0] == at("findings:list") + "?show=untold"
        assert 'aria-current="true">untold' in page.content.decode()
        keep(client, query="show=refused")
        assert SavedList.objects.get().query == "show=refused"

    def test_shares_with_the_firm_and_keeps_the_rest_private(self, signed_in, office, technician):
        client = signed_in(office)
        keep(client, name="mine")
        keep(client, name="ours", shared="on")

        page = signed_in(technician).get(at("findings:list")).content.decode()

        assert "ours" in page
        assert ">mine" not in page
        ours = SavedList.objects.get(name="ours")
        mine = SavedList.objects.get(name="mine")
        assert client.post(at("forget_list", list_id=ours.pk)).status_code == 403
        assert client.post(at("forget_list", list_id=mine.pk)).status_code == 404
        signed_in(office).post(at("forget_list", list_id=ours.pk))
        assert not SavedList.objects.filter(name="ours").exists()

    @pytest.mark.parametrize("page", ["", "register:device", "x" * 200])
    def test_keeps_no_other_page(self, signed_in, office, page):
        said = keep(signed_in(office), page=page).content.decode()

        assert "cannot be kept under a name" in said
        assert not SavedList.objects.exists()

    def test_keeps_none_without_a_name(self, signed_in, office):
        assert "Give the list a name" in keep(signed_in(office), name="  ").content.decode()
        assert not SavedList.objects.exists()


class TestHistory:
    def test_shows_who_when_before_and_after(self, signed_in, office, building):
        keep_changes(
            row=building,
            facts={"town": "Wexholt", "releasing": "=1+1"},
            member=office,
            action="building.changed",
            now=NOON,
        )
        client = signed_in(office)
        address = at("history", subject="register.building", subject_id=building.pk)

        page = client.get(address).content.decode()
        text = client.get(address, {"as": "csv"}).content.decode()

        assert "I. Tarrowby" in page
        assert "town: Port Ellory → <b>Wexholt</b>" in page
        assert "'=1+1" in text

    def test_is_there_for_what_has_none_and_not_for_others(self, signed_in, office, detector):
        client = signed_in(office)

        assert (
            client.get(at("history", subject="register.device", subject_id=detector.pk)).status_code
            == 200
        )
        for subject in ("register.building", "tenancy.user", "x"):
            wrong = at("history", subject=subject, subject_id=detector.pk)
            assert client.get(wrong).status_code == 404


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        (None, None, []),
        ([], ["a", "b"], [("", "none", "a, b")]),
        ({"area_id": None, "x": 1}, {"area_id": "z", "x": 1}, [("area", "none", "z")]),
    ],
)
def test_tells_differences_of_any_shape(before, after, told):
    assert list_differences(AuditLine(before=before, after=after)) == told
