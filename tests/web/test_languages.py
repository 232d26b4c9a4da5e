"""Which language a page speaks, and that the catalogues are whole."""

import gettext
import io
import re

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import translation

from contractor.tenancy.models import FirmProfile
from contractor.tenancy.scope import scope
from script import messages

#: What "Language", the page of that name, is called.
NAMES = {"en": "Language", "en-gb": "Language", "de": "Sprache", "es": "Idioma", "fr-ca": "Langue"}


def spoken(client, **headers):
    page = client.get(reverse("language"), headers=headers)
    text = page.content.decode()
    lang = re.search(r'<html lang="([^"]+)"', text)[1]
    assert page["Content-Language"] == lang
    assert f"<h1>{NAMES[lang]}</h1>" in text
    return lang


@pytest.mark.django_db
class TestChoice:
    def test_follows_the_browser_then_what_was_chosen(self, client):
        assert spoken(client) == "en"
        assert spoken(client, accept_language="de-AT,de;q=0.9,en;q=0.5") == "de"
        assert spoken(client, accept_language="fr") == "fr-ca"
        assert spoken(client, accept_language="tlh, en-GB;q=0.4") == "en-gb"

        answer = client.post(
            reverse("language"), {"language": "es", "next": "https://example.org/"}
        )

        assert answer.url == "/"  # never to another site
        assert spoken(client, accept_language="de") == "es"
        assert translation.get_language() == "en"  # nothing is left behind

    def test_of_a_person_goes_before_the_firm_and_the_firm_before_the_browser(
        self, firm, technician, signed_in
    ):
        client = signed_in(technician)
        page = reverse("people:list", kwargs={"firm": firm.slug})

        def of_page():
            return client.get(page, headers={"accept-language": "es"})["Content-Language"]

        assert of_page() == "es"
        with scope(firm.pk):
            FirmProfile.objects.update(language="fr-ca")
        assert of_page() == "fr-ca"
        client.post(reverse("language"), {"language": "de"})
        technician.user.refresh_from_db()
        assert (technician.user.language, of_page()) == ("de", "de")
        client.post(reverse("language"), {"language": ""})
        assert of_page() == "fr-ca"
        assert client.post(reverse("language"), {"language": "xx"}).status_code == 200

    def test_of_programs_is_english(self, client):
        answer = client.get(reverse("api_description"), headers={"accept-language": "de"})
        assert answer["Content-Language"] == "en"
        assert "Accept-Language" not in answer.get("Vary", "")


class TestCatalogues:
    def test_hold_what_gettext_reads(self):
        said = {
            "": "Content-Type: text/plain; charset=UTF-8\n"
            "Plural-Forms: nplurals=2; plural=(n>1);\n",
            "%(n)s visit\x00%(n)s visits": "%(n)s visite\x00%(n)s visites",
            "shut\x04closed": "fermé",
            "due": "échu",
        }
        read = gettext.GNUTranslations(io.BytesIO(messages.write_mo(said)))
        assert read.gettext("due") == "échu"
        assert read.pgettext("shut", "closed") == "fermé"
        assert read.ngettext("%(n)s visit", "%(n)s visits", 0) == "%(n)s visite"
        assert read.ngettext("%(n)s visit", "%(n)s visits", 2) == "%(n)s visites"

    def test_leave_out_what_is_fuzzy_or_not_translated(self):
        text = (
            'msgid ""\nmsgstr ""\n"Language: de\\n"\n\n#, fuzzy\nmsgid "a"\nmsgstr "x"\n\n'
            'msgid "b"\nmsgstr ""\n\nmsgid "c \\"quoted\\" "\n"on"\nmsgstr "d"\n\n'
            'msgid "e"\nmsgid_plural "f"\nmsgstr[0] "g"\nmsgstr[1] ""\n'
        )
        assert messages.read_po(text) == {"": "Language: de\n", 'c "quoted" on': "d"}

    def test_are_compiled(self):
        for path, data in messages.compiled():
            assert path.read_bytes() == data, f"{path.name}: type script/messages compile"

    @pytest.mark.parametrize("locale", messages.LOCALES)
    @pytest.mark.parametrize("domain", ["django", "field"])
    def test_keep_every_name_that_a_sentence_is_filled_with(self, locale, domain):
        named = re.compile(r"%\(\w+\)s" if domain == "django" else r"\{\w+\}")
        tags = re.compile(r"</?[a-z]+[^>]*>")
        text = (messages.ROOT / "locale" / locale / "LC_MESSAGES" / f"{domain}.po").read_text()
        wrong = []
        for key, said in messages.read_po(text).items():
            if not key:
                continue
            asked = key.partition("\x04")[2] or key
            first, _, plural = asked.partition("\x00")
            may, must = {*named.findall(asked)}, {*named.findall(plural or first)}
            for form in said.split("\x00"):
                has = {*named.findall(form)}
                few = must - has if form == said.split("\x00")[-1] else set()
                if has - may or few or sorted(tags.findall(form)) != sorted(tags.findall(first)):
                    wrong.append((asked, form))
        assert wrong == []

    def test_stand_for_each_language_of_the_settings(self):
        listed = {locale.replace("_", "-").lower() for locale in messages.LOCALES}
        assert {code for code, _ in settings.LANGUAGES} == listed | {"en"}
