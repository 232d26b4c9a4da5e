"""The page door and the API door, on routes of the test's own."""

import io

import pytest
from django.http import FileResponse, StreamingHttpResponse
from django.template.response import SimpleTemplateResponse
from django.urls import path
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.response import Response

from contractor.register.models import Building, Customer
from contractor.tenancy.permissions import Permission
from contractor.tenancy.scope import NoScope, scope
from contractor.web.api import FirmApi
from contractor.web.door import firm_view, open_view
from tests import factories

pytestmark = [pytest.mark.django_db, pytest.mark.urls(__name__)]


class Customers(FirmApi):
    """A list, and a write that fails half-way."""

    class Input(serializers.Serializer):
        name = serializers.CharField(max_length=20)

    def get(self, request):
        return Response({"names": [row.name for row in Customer.objects.order_by("name")]})

    def post(self, request):
        form = self.Input(data=request.data)
        form.is_valid(raise_exception=True)
        Customer.objects.create(firm=request.firm, name=form.validated_data["name"])
        if form.validated_data["name"] == "half-way":
            raise ValidationError({"name": ["This name is taken."]})
        return Response({"name": form.validated_data["name"]}, status=201)


@open_view("a page that forgets its door")
def leaky(request):
    """Read rows without a scope."""
    return SimpleTemplateResponse("web/home.html", {"seats": list(Building.objects.all())})


@firm_view(Permission.READ)
def stream(request):
    """Answer with a stream, whose rows would be gone."""
    return StreamingHttpResponse(row.name for row in Building.objects.all())


@firm_view(Permission.READ)
def filed(request):
    """Answer with a file, which needs no rows."""
    return FileResponse(io.BytesIO(b"a file"), filename="a.txt")


@firm_view(Permission.READ)
def lazy(request):
    """Answer with something that is rendered later."""
    return SimpleTemplateResponse("web/_pages.html", {"page": None, "rows": Building.objects.all()})


urlpatterns = [
    path("api/<slug:firm>/customers/", Customers.as_view()),
    path("leaky/", leaky),
    path("<slug:firm>/stream/", stream),
    path("<slug:firm>/file/", filed),
    path("<slug:firm>/lazy/", lazy),
]


@pytest.fixture
def member(firm):
    with scope(firm.pk):
        factories.CustomerFactory(firm=firm, name="Saltgate")
        return factories.MemberFactory(firm=firm, role="office")


def names(firm) -> list[str]:
    with scope(firm.pk):
        return list(Customer.objects.order_by("name").values_list("name", flat=True))


class TestFirmApi:
    def test_lets_a_member_in_to_their_own_rows(self, client, member, other_firm):
        with scope(other_firm.pk):
            factories.CustomerFactory(firm=other_firm, name="Canary")
        client.force_login(member.user)

        assert client.get("/api/tarnbeck/customers/").json() == {"names": ["Saltgate"]}

    def test_a_strange_firm_and_none_are_not_found_alike(self, client, member, other_firm):
        client.force_login(member.user)
        there = client.get("/api/wexholt/customers/")
        nowhere = client.get("/api/nobody/customers/")

        assert (there.status_code, nowhere.status_code) == (404, 404)
        assert there.json() == nowhere.json()
        assert set(there.json()) == {"type", "title", "status", "detail", "code", "fields"}

    def test_nobody_comes_in_unnamed(self, client, member):
        assert client.get("/api/tarnbeck/customers/").status_code in (401, 403)

    def test_a_technician_may_read_and_not_write(self, client, firm):
        with scope(firm.pk):
            technician = factories.MemberFactory(firm=firm, role="technician")
        client.force_login(technician.user)

        assert client.get("/api/tarnbeck/customers/").status_code == 200
        assert client.post("/api/tarnbeck/customers/", {"name": "New"}).status_code == 403
        assert names(firm) == []

    def test_a_write_that_is_refused_half_way_leaves_nothing(self, client, member, firm):
        client.force_login(member.user)
        answer = client.post("/api/tarnbeck/customers/", {"name": "half-way"})

        assert answer.status_code == 400
        assert answer.json()["fields"] == {"name": ["This name is taken."]}
        assert names(firm) == ["Saltgate"]

    def test_a_good_write_stays(self, client, member, firm):
        client.force_login(member.user)

        assert client.post("/api/tarnbeck/customers/", {"name": "Northquay"}).status_code == 201
        assert names(firm) == ["Northquay", "Saltgate"]


class TestPageDoor:
    def test_a_page_without_its_door_finds_no_rows(self, client, member):
        client.force_login(member.user)
        with pytest.raises(NoScope):
            client.get("/leaky/")

    def test_a_stream_is_refused(self, client, member):
        client.force_login(member.user)
        with pytest.raises(TypeError, match="cannot stream"):
            client.get("/tarnbeck/stream/")

    def test_a_file_is_no_such_stream(self, client, member):
        client.force_login(member.user)

        assert b"".join(client.get("/tarnbeck/file/").streaming_content) == b"a file"

    def test_what_is_rendered_later_is_rendered_inside(self, client, member):
        client.force_login(member.user)

        assert client.get("/tarnbeck/lazy/").status_code == 200
