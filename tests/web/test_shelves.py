"""The page that lists the rest: everything on it opens, for each role."""

import pytest
from django.urls import reverse

from contractor.tenancy.permissions import ROLES, Permission
from contractor.web.shelves import SHELVES, stock
from tests import factories

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("role", list(ROLES))
def test_everything_listed_opens(firm, inside, signed_in, role):
    client = signed_in(factories.MemberFactory(firm=firm, role=role))
    shown = client.get(reverse("more", kwargs={"firm": firm.slug})).content.decode()

    books = [
        book for _, some in stock(firm=firm.slug, may=ROLES[role].__contains__) for book in some
    ]

    assert books
    for label, _, url in books:
        assert f'href="{url}"' in shown, label
        assert client.get(url).status_code == 200, label


def test_each_book_has_an_address(firm):
    listed = stock(firm=firm.slug, may=frozenset(Permission).__contains__)
    assert [len(some) for _, some in listed] == [len(shelf.books) for shelf in SHELVES]
