"""A select of hundreds of options says what Django's own says."""

from django import forms
from django.test.html import parse_html

from contractor.web.long_select import LongSelect

CHOICES = [("", "every building"), ("7", "Pell & Lane <Bakery>"), ("8", 'Quillmarsh "House"')]


class Form(forms.Form):
    ours = forms.ChoiceField(choices=CHOICES, widget=LongSelect(attrs={"class": "wide"}))
    theirs = forms.ChoiceField(choices=CHOICES, widget=forms.Select(attrs={"class": "wide"}))


def written(form, name):
    return parse_html(str(form[name]).replace(name, "NAME"))


def test_is_written_as_by_django():
    for said in ("", "8", "9"):
        form = Form({"ours": said, "theirs": said})
        form.is_valid()
        assert written(form, "ours") == written(form, "theirs")
    assert '<option value="8" selected>' in str(Form({"ours": "8"})["ours"])
