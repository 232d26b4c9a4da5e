"""A select of many options, written at once."""

from typing import Any

from django import forms
from django.forms.utils import flatatt
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

SELECTED = mark_safe(" selected")


class LongSelect(forms.Select):
    """A select without groups that renders no template for each option: there may be hundreds."""

    def render(
        self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: Any = None
    ) -> SafeString:
        """Write the select."""
        chosen = set(self.format_value(value))
        options = [
            (key, SELECTED if str(key) in chosen else "", said) for key, said in self.choices
        ]
        return format_html(
            "<select{}>{}</select>",
            flatatt(self.build_attrs({**self.attrs, "name": name}, attrs)),
            format_html_join("", '<option value="{}"{}>{}</option>', options),
        )
