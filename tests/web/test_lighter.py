"""Tags that remember what they said say what Django's own would have said."""

import subprocess
import sys
import uuid

import pytest
from django.template import Context, Engine
from django.urls import NoReverseMatch
from django.utils import translation

from contractor.web import charts
from contractor.web.templatetags import lighter

KEY = uuid.UUID("018f0000-0000-7000-8000-00000000000a")
OWN = ["django.templatetags.i18n"]
OURS = Engine(builtins=[*OWN, "contractor.web.templatetags.lighter"])
DJANGO = Engine(builtins=OWN)


def both(text, /, **given):
    """Say a template by our tags, twice, and once by Django's."""
    ours = OURS.from_string(text)
    said = [ours.render(Context(given)), ours.render(Context(given))]
    return {*said, DJANGO.from_string(text).render(Context(given))}


class TestUrl:
    @pytest.mark.parametrize(
        "text",
        [
            "{% url 'register:building' firm=firm building_id=key %}",
            "{% url 'visits:pass_device' firm=firm visit_id=key device_id=other %}",
            "{% url 'visits:pass_device' device_id=other visit_id=key firm=firm %}",
            "{% url 'register:buildings' firm=firm as there %}[{{ there }}]",
            "{% url 'no:such' firm=firm as there %}[{{ there }}]",
            "{% url 'register:building' firm=nothing building_id=key as there %}[{{ there }}]",
            "{% url 'register:building' firm='a b' building_id=key as there %}[{{ there }}]",
            "{% url 'register:building' firm=firm building_id='x' as there %}[{{ there }}]",
            "{% url 'register:building' firm=firm building_id=text %}",
            "{% url 'account_login' %}",
            "{% url name firm=firm building_id=key %}",
        ],
    )
    def test_says_what_django_says(self, text):
        (said,) = both(
            text,
            firm="tarnbeck",
            key=KEY,
            other=uuid.UUID(int=7, version=4),
            text=str(KEY),
            name="register:building",
        )
        assert said

    def test_each_firm_and_key_has_its_own(self):
        text = "{% url 'register:building' firm=firm building_id=key %}"
        (one,) = both(text, firm="tarnbeck", key=KEY)
        (two,) = both(text, firm="other-firm", key=uuid.uuid4())
        assert one == f"/f/tarnbeck/buildings/{KEY}/"
        assert two.startswith("/f/other-firm/buildings/")
        assert two != one

    def test_one_that_is_none_is_said(self):
        with pytest.raises(NoReverseMatch):
            OURS.from_string("{% url 'register:building' firm=firm %}").render(
                Context({"firm": "tarnbeck"})
            )


class TestTranslate:
    @pytest.mark.parametrize("language", ["en", "de", "fr-ca"])
    @pytest.mark.parametrize(
        "text",
        [
            "{% translate 'Buildings' %}",
            "{% trans 'in range' as said %}[{{ said }}]",
            "{% translate '100 % of <b>it</b> & %s' %}",
            "{% translate 'Buildings' noop %}",
            "{% translate word %}",
            "{% translate 'Buildings'|upper %}",
            "{% translate 'May' context 'a month' %}",
        ],
    )
    def test_says_what_django_says(self, language, text):
        with translation.override(language):
            (said,) = both(text, word="out of range")
        assert said

    def test_speaks_the_language_that_is_on(self):
        said = []
        for language in ("en", "de", "en"):
            with translation.override(language):
                said.append(*both("{% translate 'Buildings' %}"))
        assert said[0] == said[2] == "Buildings"
        assert said[1] == "Gebäude"

    def test_looks_up_once(self):
        lighter.say.cache_clear()
        both("{% translate 'Buildings' %}")
        assert lighter.say.cache_info()[:2] == (1, 1)


class TestDrawOnce:
    def test_draws_again_in_another_language_and_with_another_value(self):
        one = charts.Usage(counts=(3, 2, 1), in_range=6)
        first = charts.draw(one)
        assert charts.draw(charts.Usage(counts=(3, 2, 1), in_range=6)) is first
        assert charts.draw(charts.Usage(counts=(3, 2, 2), in_range=6)) != first
        with translation.override("de"):
            assert charts.draw(one) != first
        assert charts.draw(one) is first

    def test_a_fixed_one_is_as_it_was(self):
        one = charts.Usage(counts=(3, 2, 1), in_range=6)
        assert charts.draw(one, width=640) == charts.draw(one, width=640) != charts.draw(one)


def test_a_web_process_is_ready_before_its_first_request():
    asked = (
        "import gc, contractor.wsgi; from django.template import engines, loader;"
        "print(gc.get_freeze_count() > 100_000);"
        "[one] = [one for one in engines['django'].engine.template_loaders];"
        "print('register/buildings.html' in str(list(one.get_template_cache)))"
    )
    said = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert said.stdout.split() == ["True", "True"]
