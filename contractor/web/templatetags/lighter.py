"""Django's own tags `url` and `translate`, remembering what they said: lists say it row by row.

Loaded for every template, after Django's.
"""

import functools
import re
from typing import Any
from uuid import UUID

from django import template
from django.template import Context, Node, defaulttags
from django.template.base import Parser, Token
from django.templatetags import i18n
from django.urls import NoReverseMatch, reverse
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, gettext

register = template.Library()

_FIRM = "a-firm-of-this-server"
_KEYS = [UUID(int=number, version=4) for number in range(1, 5)]
_SLUG = re.compile(r"[-\w]+", re.ASCII)


class Url(defaulttags.URLNode):
    """An address whose keys are a firm and UUIDs, as nearly all are; any other is Django's."""

    def render(self, context: Context) -> str:
        """Fill the address's pattern, which never changes."""
        address = None if self.args else self._fill(context)
        if address is None:
            return super().render(context)
        if self.asvar:
            context[self.asvar] = address
            return ""
        return address

    def _fill(self, context: Context) -> str | None:
        said = {}
        for name, value in self.kwargs.items():
            key = value.resolve(context)
            is_plain = type(key) is UUID or (
                name == "firm" and isinstance(key, str) and _SLUG.fullmatch(key)
            )
            if not is_plain:
                return None
            said[name] = key
        address = _find_pattern(self.view_name.resolve(context), tuple(said))
        return address.format(**said) if address else None


@functools.lru_cache(maxsize=4096)
def _find_pattern(name: Any, arguments: tuple[str, ...]) -> str:
    """Give an address with places for its arguments; empty where there is none."""
    keys = iter(_KEYS)
    given = {one: _FIRM if one == "firm" else next(keys) for one in arguments}
    try:
        found = reverse(name, kwargs=given)
    except NoReverseMatch:
        return ""
    for one, value in given.items():
        found = found.replace(str(value), "{" + one + "}")
    return found


class Translate(Node):
    """A text that a template holds, looked up once a language."""

    def __init__(self, text: str, asvar: str | None) -> None:
        self.text, self.asvar = text, asvar

    def render(self, context: Context) -> str:
        """Say the text, or keep it under its name."""
        said = say(get_language(), self.text)
        if self.asvar:
            context[self.asvar] = said
            return ""
        return said


@functools.cache  # as many as templates hold
def say(_language: str | None, text: str) -> SafeString:
    """Say a text of a template in the language that is on; catalogues double its percent signs."""
    return mark_safe(gettext(text.replace("%", "%%")).replace("%%", "%"))


@register.tag
def url(parser: Parser, token: Token) -> Node:
    """Give a page's address; arguments as Django's own tag takes them."""
    found = defaulttags.url(parser, token)
    return Url(found.view_name, found.args, found.kwargs, found.asvar)


@register.tag("trans")
@register.tag
def translate(parser: Parser, token: Token) -> Node:
    """Say a text in the page's language; arguments as Django's own tag takes them."""
    found = i18n.do_translate(parser, token)
    text = getattr(found.filter_expression.var, "literal", None)
    has_more = found.filter_expression.filters or found.message_context or found.noop
    if has_more or not isinstance(text, str):
        return found
    return Translate(text, found.asvar)
