"""What was typed survives a sign-in that has ended."""

import pytest

from contractor.findings.models import Finding
from contractor.tenancy.scope import scope

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
]


def test_a_finding_half_written_comes_back_after_signing_in_again(desk, firm):
    page = desk.page
    assert not page.locator("[data-typed-again]").is_visible()
    page.fill("main [name=title]", "Bracket loose")
    page.fill("main [name=text]", "Above the servery door.")
    page.context.clear_cookies(name="sessionid")
    page.press("main [name=title]", "Enter")
    page.wait_for_url("**/accounts/login/**")
    desk.sign_in()

    page.locator("[data-typed-again]").wait_for(state="visible")
    assert page.input_value("main [name=title]") == "Bracket loose"
    assert page.input_value("main [name=text]") == "Above the servery door."
    page.reload()
    assert page.input_value("main [name=text]") == "", "it comes back once"
    with scope(firm.pk):
        assert not Finding.objects.exists()
