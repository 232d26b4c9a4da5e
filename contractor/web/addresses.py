"""Addresses of pages, resolved once for many rows."""

from uuid import uuid4

from django.urls import reverse


def address_pattern(name: str, argument: str, firm: str) -> str:
    """Give a page's address with a place for a key, to be filled by str.format."""
    key = uuid4()
    address = reverse(name, kwargs={"firm": firm, argument: key})
    return address.replace(str(key), "{" + argument + "}")
