"""Addresses of pages, resolved once for many rows and many requests: they never change."""

import functools
from uuid import UUID

from django.urls import NoReverseMatch, reverse

_KEY = UUID("00000000-0000-4000-8000-000000000000")


@functools.lru_cache(maxsize=4096)
def find_address(name: str, firm: str = "") -> str:
    """Find a page's address; an area that has no such page has no address."""
    try:
        return reverse(name, kwargs={"firm": firm} if firm else {})
    except NoReverseMatch:
        return ""


@functools.lru_cache(maxsize=4096)
def address_pattern(name: str, argument: str, firm: str) -> str:
    """Give a page's address with a place for a key, to be filled by str.format."""
    address = reverse(name, kwargs={"firm": firm, argument: _KEY})
    return address.replace(str(_KEY), "{" + argument + "}")
