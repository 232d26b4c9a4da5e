"""The office's pages of labels, and the address in a code."""

import io
import re

import pypdfium2
import pytest
from django.urls import reverse

from contractor.engine.label_codes import say_code
from contractor.labels import queries
from contractor.labels.models import Label, PrintRun
from contractor.tenancy.scope import scope
from tests import factories

pytestmark = pytest.mark.django_db


def at(name, firm, **keys):
    return reverse(f"labels:{name}", kwargs={"firm": firm.slug, **keys})


def words(answer):
    return " ".join(answer.content.decode().split())


@pytest.fixture
def laid_down(signed_in, office, firm, detector):
    """The detector's label and two empty ones, laid down by the page."""
    browser = signed_in(office)
    answer = browser.post(
        at("print", firm, building_id=detector.building_id),
        {"which": "none", "stock": "a4-40", "first": "3", "empty": "2"},
    )
    assert answer.status_code == 302, words(answer)
    with scope(firm.pk):
        return browser, PrintRun.objects.get()


class TestPages:
    def test_prints_those_without_a_label_and_logs_it(self, firm, detector, laid_down):
        browser, run = laid_down
        said = words(browser.get(at("run", firm, run_id=run.pk)))
        assert "A4, 40 labels of 48.5 × 25.4 mm, from place 3 on" in said
        assert said.count("nothing yet") == 2

        answer = browser.get(at("pdf", firm, run_id=run.pk))
        assert answer["Content-Type"] == "application/pdf"
        text = pypdfium2.PdfDocument(io.BytesIO(answer.content))[0].get_textpage().get_text_range()
        assert detector.address in text
        again = browser.post(at("again", firm, run_id=run.pk), {"reason": "", "first": "1"})
        assert "Say why it is printed again, for the log." in words(again)
        browser.post(at("again", firm, run_id=run.pk), {"reason": "paper jam", "first": "1"})
        said = words(browser.get(at("building", firm, building_id=detector.building_id)))
        assert "3 labels</b>, 3 of them printed before. paper jam" in said
        assert "no label, 0" in said

    def test_a_mistake_loses_nothing_that_was_typed(self, signed_in, office, firm, detector):
        answer = signed_in(office).post(
            at("print", firm, building_id=detector.building_id),
            {"which": "all", "stock": "a4-40", "first": "41", "reason": "new paint"},
        )
        assert "has the places 1 to 40; 41 is none" in words(answer)
        assert 'value="new paint"' in words(answer)
        assert 'value="41"' in words(answer)

    def test_binds_a_barcode_and_writes_it_as_csv(self, signed_in, office, firm, detector):
        browser = signed_in(office)
        page = at("device", firm, device_id=detector.pk)
        assert "No code opens it yet" in words(browser.get(page))
        browser.post(page, {"code": "=SN-0042"})
        assert "=SN-0042" in words(browser.get(page))
        listed = browser.get(at("building", firm, building_id=detector.building_id), {"as": "csv"})
        assert "'=SN-0042" in listed.content.decode()
        shown = browser.get(reverse("register:device", args=[firm.slug, detector.pk]))
        assert "Label =SN-0042" in words(shown)

    def test_lists_cost_no_more_for_many(
        self, signed_in, office, firm, system, detector, django_assert_max_num_queries
    ):
        with scope(firm.pk):
            for number in range(60):
                device = factories.DeviceFactory(system=system, address=f"8-{number}")
                Label.objects.create(
                    firm=firm, code=f"x{number}", is_ours=False, device=device,
                    made_at=factories.NOON,
                )  # fmt: skip
        browser = signed_in(office)
        with django_assert_max_num_queries(20):
            browser.get(at("building", firm, building_id=detector.building_id))

    def test_a_technician_reads_and_does_not_print(self, signed_in, technician, firm, detector):
        browser = signed_in(technician)
        page = at("print", firm, building_id=detector.building_id)
        assert browser.get(page).status_code == 403
        assert (
            browser.get(at("building", firm, building_id=detector.building_id)).status_code == 200
        )
        code = {"code": "SN-1"}
        assert browser.post(at("device", firm, device_id=detector.pk), code).status_code == 200
        with scope(firm.pk):
            assert not Label.objects.exists()


class TestOpened:
    def test_leads_a_member_to_the_device(self, firm, detector, laid_down):
        browser, run = laid_down
        with scope(firm.pk):
            codes = [one.label.code for one in queries.list_printed(run=run)]
            empty = Label.objects.get(code=codes[1])
        there = reverse("register:device", args=[firm.slug, detector.pk])
        assert browser.get(f"/D/{codes[0]}").url == there
        assert browser.get(f"/D/{codes[0].lower()}").url == there
        assert browser.get(f"/D/{codes[1]}").url == at("label", firm, label_id=empty.pk)

    def test_tells_others_nothing(self, client, firm, other_firm):
        code, made_up = "7Q2MK4XD9F34", "22222222222R"
        with scope(firm.pk):
            device = factories.DeviceFactory(
                system=factories.SystemFactory(building=factories.BuildingFactory(firm=firm))
            )
            Label.objects.create(
                firm=firm, code=code, is_ours=True, device=device, made_at=factories.NOON
            )
        with scope(other_firm.pk):
            stranger = factories.MemberFactory(firm=other_firm)
        for sign_in in (lambda: None, lambda: client.force_login(stranger.user)):
            sign_in()
            real, other = client.get(f"/D/{code}"), client.get(f"/D/{made_up}")
            assert real.status_code == other.status_code == 200
            assert plain(real, code) == plain(other, made_up)
            assert "Quillmarsh" not in words(real)


def plain(answer, code):
    """Take out of a page what differs by itself: the code that was asked, fresh tokens."""
    said = words(answer).replace(say_code(code), "X").replace(code, "X")
    return re.sub(r'nonce="[^"]+"|[A-Za-z0-9]{64}', "", said)
