"""The pages of the outbox."""

from uuid import uuid4

import pytest

from contractor.notices.models import Notice
from contractor.tenancy.scope import scope
from tests.conftest import NOON

pytestmark = pytest.mark.django_db


@pytest.fixture
def unknown(firm, inside):
    return Notice.objects.create(
        firm=firm,
        kind="week",
        object_id=uuid4(),
        occurrence="2026-W48",
        recipient="i@example.org",
        subject="This week: 2 overdue",
        body="Quillmarsh House",
        not_before=NOON,
        message_id="<1@localhost>",
        owed_at=NOON,
        state="unknown",
        problem="Its sender ended while it was being sent. It may have arrived.",
    )


def test_says_what_is_uncertain_and_lets_a_person_decide(firm, unknown, office, signed_in):
    client = signed_in(office)
    page = client.get(f"/f/{firm.slug}/notices/")
    assert "1 mail may not have arrived" in page.content.decode()
    page = client.post(f"/f/{firm.slug}/notices/{unknown.pk}/", {"settle": "1"}, follow=True)
    assert "Noted." in page.content.decode()
    with scope(firm.pk):
        assert Notice.objects.get().state == "sent"


def test_a_technician_has_no_outbox_but_chooses_mails(firm, unknown, technician, signed_in):
    client = signed_in(technician)
    assert client.get(f"/f/{firm.slug}/notices/").status_code == 403
    page = client.post(f"/f/{firm.slug}/notices/wanted/", {}, follow=True)
    assert page.status_code == 200
    assert "checked" not in page.content.decode()
    page = client.post(f"/f/{firm.slug}/notices/wanted/", {"kind": "week"}, follow=True)
    assert page.content.decode().count("checked") == 1


def test_queries_do_not_grow_with_notices(
    firm, unknown, office, signed_in, django_assert_max_num_queries
):
    client = signed_in(office)
    with scope(firm.pk):
        for number in range(40):
            unknown.pk, unknown.occurrence = uuid4(), str(number)
            unknown.save(force_insert=True)
    with django_assert_max_num_queries(14):
        client.get(f"/f/{firm.slug}/notices/")


def test_is_narrowed_by_state_and_kind_and_taken_along(firm, unknown, office, signed_in):
    client = signed_in(office)
    with scope(firm.pk):
        unknown.pk, unknown.kind, unknown.state = uuid4(), "visit_coming", "sent"
        unknown.subject = "-2+3 visits"
        unknown.save(force_insert=True)

    page = client.get(f"/f/{firm.slug}/notices/?state=sent&kind=visit_coming").content.decode()
    assert "-2+3 visits" in page
    assert "This week: 2 overdue" not in page
    assert "?state=unknown&amp;kind=visit_coming" in page  # one filter keeps the other
    text = client.get(f"/f/{firm.slug}/notices/?kind=visit_coming&as=csv").content.decode()
    assert "'-2+3 visits" in text
    assert "This week" not in text
