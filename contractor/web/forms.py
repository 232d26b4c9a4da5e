"""What people type on the pages of no area."""

from django import forms
from django.utils.translation import gettext_lazy as _

from contractor.web.languages import LANGUAGES


class Language(forms.Form):
    """The language that pages speak to a person."""

    language = forms.ChoiceField(
        choices=[("", _("as my firm or my browser has it")), *LANGUAGES],
        required=False,
        widget=forms.RadioSelect,
        label=_("Pages speak"),
    )
    next = forms.CharField(required=False, widget=forms.HiddenInput)
