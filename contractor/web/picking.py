"""Read which of several things were ticked."""

from uuid import UUID

from django.http import QueryDict


def keys_in(sent: QueryDict, name: str) -> list[UUID]:
    """List the keys that were sent under a name; what is no key is left out."""
    found = []
    for text in sent.getlist(name):
        try:
            found.append(UUID(text))
        except ValueError:
            continue
    return found
