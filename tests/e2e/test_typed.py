"""What was typed survives a sign-in that has ended."""

import pytest
from django.contrib.auth.hashers import make_password
from django.urls import reverse

from contractor.findings.models import Finding
from contractor.tenancy.scope import scope
from tests import factories
from tests.e2e.field_stage import CHROMIUM
from tests.e2e.test_office_path import PASSWORD

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
]


def test_a_finding_half_written_comes_back_after_signing_in_again(play, live_server, firm):
    with scope(firm.pk):
        user = factories.UserFactory(
            email="office@tarnbeck.example", password=make_password(PASSWORD)
        )
        factories.MemberFactory(firm=firm, user=user, name="I. Tarrowby", role="office")
        building = factories.BuildingFactory(firm=firm)
    page_of = reverse("findings:open", kwargs={"firm": firm.slug, "building_id": building.pk})
    browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
    try:
        page = browser.new_page()

        def sign_in():
            page.fill("input[name=login]", user.email)
            page.fill("input[name=password]", PASSWORD)
            page.press("input[name=password]", "Enter")
            page.wait_for_url(f"**{page_of}")

        page.goto(live_server.url + page_of)
        sign_in()
        assert not page.locator("[data-typed-again]").is_visible()
        page.fill("main [name=title]", "Bracket loose")
        page.fill("main [name=text]", "Above the servery door.")
        page.context.clear_cookies(name="sessionid")
        page.press("main [name=title]", "Enter")
        page.wait_for_url("**/accounts/login/**")
        sign_in()

        page.locator("[data-typed-again]").wait_for(state="visible")
        assert page.input_value("main [name=title]") == "Bracket loose"
        assert page.input_value("main [name=text]") == "Above the servery door."
        page.reload()
        assert page.input_value("main [name=text]") == "", "it comes back once"
    finally:
        browser.close()
    with scope(firm.pk):
        assert not Finding.objects.exists()
