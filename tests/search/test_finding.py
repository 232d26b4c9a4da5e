"""Find by words: what is found, in which order, and never another firm's."""

import pytest
from django.db import connection
from django.urls import reverse

from contractor.labels import services as labels
from contractor.search import queries
from contractor.tenancy import wall
from contractor.tenancy.scope import scope
from tests import factories

CODE = "7Q2MK4XD9F34"


def at(name, **keys):
    return reverse(name, kwargs={"firm": "tarnbeck", **keys})


@pytest.fixture
def stock(inside, firm, building, system, zone, detector):
    """Two buildings that share an address, a finding and a visit."""
    other = factories.BuildingFactory(firm=firm, customer=building.customer, name="Dunmere Store")
    twin = factories.DeviceFactory(
        system=factories.SystemFactory(building=other),
        product=detector.product,
        address=detector.address,
        label="Loading bay",
        serial="SN_77%3",
    )
    finding = factories.FindingFactory(building=building, device=detector)
    visit = factories.VisitFactory(building=other, purpose="Annual test")
    return {"other": other, "twin": twin, "finding": finding, "visit": visit}


class TestFind:
    def test_finds_an_address_in_each_building_and_with_its_name_in_one(
        self, firm, stock, detector
    ):
        for device in (detector, stock["twin"]):
            device.address = "2-B114"
            device.save(update_fields=["address"])
        both = queries.find(firm_id=firm.pk, words="2-b114")
        one = queries.find(firm_id=firm.pk, words=f"{detector.address} dunmere")

        assert {row.pk for row in both.groups["device"]} == {detector.pk, stock["twin"].pk}
        assert [row.pk for row in one.groups["device"]] == [stock["twin"].pk]

    def test_finds_each_kind_by_a_word(self, firm, stock, building):
        found = queries.find(firm_id=firm.pk, words="quillmarsh")

        assert [row.pk for row in found.groups["building"]] == [building.pk]
        assert [row.pk for row in found.groups["finding"]] == [stock["finding"].pk]
        assert len(found.groups["device"]) == 1
        assert [
            row.pk for row in queries.find(firm_id=firm.pk, words="dunmere annual").groups["visit"]
        ] == [stock["visit"].pk]
        assert len(queries.find(firm_id=firm.pk, words="saltgate estates").groups["customer"]) == 1

    def test_takes_percent_and_underscore_as_they_are_typed(self, firm, stock):
        assert [
            row.pk for row in queries.find(firm_id=firm.pk, words="sn_77%3").groups["device"]
        ] == [stock["twin"].pk]
        assert not queries.find(firm_id=firm.pk, words="snx77").groups.get("device")
        assert not queries.find(firm_id=firm.pk, words="%%%").count

    def test_finds_what_is_misspelled_only_where_nothing_is_right(self, firm, stock, building):
        found = queries.find(firm_id=firm.pk, words="quilmarsch")

        assert found.is_loose
        assert [row.pk for row in found.groups["building"]] == [building.pk]

    @pytest.mark.parametrize("words", ["", "   ", "\0", "'; drop table x; --", "x" * 5000])
    def test_bears_any_words(self, firm, stock, words):
        assert queries.find(firm_id=firm.pk, words=words).count == 0

    def test_finds_nothing_of_another_firm(self, firm, other_firm, stock):
        with connection.cursor() as cursor:
            cursor.execute("select set_config('app.firm_id', %s, true)", [str(other_firm.pk)])
            cursor.execute("select count(*) from search_keys(%s, 50, false)", [["quillmarsh"]])
            theirs = cursor.fetchone()[0]
            cursor.execute("select set_config('app.firm_id', '', true)")
            cursor.execute("select count(*) from search_keys(%s, 50, true)", [["quillmarsh"]])
            nobodys = cursor.fetchone()[0]
            cursor.execute("select set_config('app.firm_id', %s, true)", [str(firm.pk)])
            cursor.execute("select count(*) from search_keys(%s, 50, false)", [["quillmarsh"]])
            ours = cursor.fetchone()[0]

        assert (theirs, nobodys) == (0, 0)
        assert ours > 0


class TestLabels:
    @pytest.fixture
    def label(self, stock, office, detector, now):
        return labels.bind(text=CODE, device=detector, reason="", member=office, now=now)

    @pytest.mark.parametrize(
        "words",
        ["7Q2MK4XD9F34", "7q2m-k4xd-9f34", "HTTPS://LABELS.EXAMPLE/D/7Q2MK4XD9F34", "9f34"],
    )
    def test_finds_a_label_and_its_device_by_its_code(self, firm, label, detector, words):
        found = queries.find(firm_id=firm.pk, words=words)

        assert [row.pk for row in found.groups["label"]] == [label.pk]
        assert [row.pk for row in queries.find_devices(firm_id=firm.pk, words=words)] == [
            detector.pk
        ]
        assert not found.is_loose

    def test_finds_an_older_code_by_its_end_as_it_is_written(self, firm, stock, office, now):
        old = labels.bind(
            text="SN 0042-AlO", device=stock["twin"], reason="", member=office, now=now
        )

        for words in ("sn 0042-alo", "2-alo"):
            found = queries.find(firm_id=firm.pk, words=words)
            assert [row.pk for row in found.groups["label"]] == [old.pk]
        # Only in codes of our own is a letter what it was taken for.
        assert not queries.find(firm_id=firm.pk, words="2-a10").groups.get("label")

    @pytest.mark.parametrize("words", ["f34", "9F3%", "9F35", "7Q2M"])
    def test_finds_no_label_by_less_or_by_something_else(self, firm, label, words):
        assert not queries.find(firm_id=firm.pk, words=words).groups.get("label")

    def test_finds_no_label_of_another_firm(self, firm, other_firm, label):
        with connection.cursor() as cursor:
            found = []
            for active in (str(firm.pk), str(other_firm.pk), ""):
                cursor.execute("select set_config('app.firm_id', %s, true)", [active])
                cursor.execute("select count(*) from label_keys(%s, %s, %s, 9)", [CODE] * 3)
                found.append(cursor.fetchone()[0])

        assert found == [1, 0, 0]

    def test_says_what_became_of_a_label(self, signed_in, office, label, now):
        client = signed_in(office)
        assert "7Q2M-K4XD-9F34" in client.get(at("search:quick"), {"q": "9f34"}).content.decode()
        labels.retire(label=label, reason="Torn", member=office, now=now)

        for page in ("search:quick", "search:find"):
            assert "out of use since" in client.get(at(page), {"q": "9f34"}).content.decode()


class TestPages:
    def test_reads_what_was_asked_once(self, signed_in, office, stock):
        """ASVS 1.1.1: `%2541` is the text %41, not an A."""
        page = signed_in(office).get(f"{at('search:find')}?q=%2541ttic%253Cb%253E")

        assert page.context["words"] == "%41ttic%3Cb%3E"
        assert 'value="%41ttic%3Cb%3E"' in page.content.decode()

    def test_shows_groups_and_each_link_leads_somewhere(self, signed_in, office, stock):
        client = signed_in(office)

        whole = client.get(at("search:find"), {"q": "quillmarsh"}).content.decode()
        quick = client.get(at("search:quick"), {"q": "quillmarsh"}).content.decode()

        assert "Buildings" in whole
        assert "Findings" in whole
        assert quick.count('role="option"') == 5  # building, device, finding, and two for all
        assert "<html" not in quick

    def test_asks_no_more_for_more_rows(
        self, signed_in, office, stock, system, django_assert_max_num_queries
    ):
        for n in range(30):
            factories.DeviceFactory(system=system, address=f"7-{n:03d}", label="Quillmarsh attic")
        client = signed_in(office)
        client.get(at("search:find"), {"q": "quillmarsh"})

        with django_assert_max_num_queries(20):
            client.get(at("search:find"), {"q": "quillmarsh attic"})


@pytest.mark.django_db(databases=["default", "owner"])
def test_a_function_past_the_wall_needs_a_reason(monkeypatch):
    others = {name: why for name, why in wall.PAST_THE_WALL.items() if name != "search_keys"}
    monkeypatch.setattr(wall, "PAST_THE_WALL", others)

    with pytest.raises(wall.Unwalled, match="search_keys runs as its owner"):
        wall.build("owner")


def test_a_scope_is_all_that_search_needs(firm, building, django_assert_num_queries):
    with scope(firm.pk), django_assert_num_queries(2):
        queries.find(firm_id=firm.pk, words="quillmarsh")
