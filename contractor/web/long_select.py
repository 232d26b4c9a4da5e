"""A select of many options, written at once."""

from collections.abc import Iterable
from html import escape
from typing import Any

from django import forms
from django.forms.utils import flatatt
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe


def write_options(options: Iterable[tuple[Any, Any, bool]]) -> SafeString:
    """Write options from value, words, and whether it is chosen."""
    return mark_safe(
        "".join(
            f'<option value="{escape(str(key))}"{" selected" if is_chosen else ""}>'
            f"{escape(str(said))}</option>"
            for key, said, is_chosen in options
        )
    )


class LongSelect(forms.Select):
    """A select without groups that renders no template for each option: there may be hundreds."""

    def render(
        self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: Any = None
    ) -> SafeString:
        """Write the select."""
        chosen = set(self.format_value(value))
        return format_html(
            "<select{}>{}</select>",
            flatatt(self.build_attrs({**self.attrs, "name": name}, attrs)),
            write_options((key, said, str(key) in chosen) for key, said in self.choices),
        )
