"""What is sent twice is done once, and what takes more than a second says so."""

import pytest

from contractor.findings.models import Finding
from contractor.tenancy.scope import scope

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True, databases=["default", "owner"]),
]

#: Done in the page: a browser that waits for an answer lets nobody else press its buttons.
PRESSES = """() => {
  const button = [...document.querySelectorAll("main button")].find(
    (one) => one.textContent.trim() === "Write it down");
  const working = document.querySelector("[data-working]");
  button.click();
  button.click();
  setTimeout(() => button.click(), 100);
  const quick = working.innerText;
  new MutationObserver((_, seen) => {
    seen.disconnect();
    say(`quick: ${quick}`);
    say(`slow: ${working.innerText.split(".")[0]}.`);
  }).observe(working.firstElementChild, { attributes: true });
}"""


def test_a_slow_answer_is_told_and_a_second_press_sends_nothing(desk, firm):
    page, form = desk.page, f"**{desk.form}"
    held, told = [], []
    # A line on which nothing comes back, until the end.
    page.route(form, lambda route: held.append(route))
    page.expose_function("say", lambda said: told.append(said))
    page.fill("main [name=title]", "Bracket loose")
    page.select_option("main [name=severity]", "deficiency")

    page.evaluate(PRESSES)
    for _ in range(600):
        if len(told) == 2:
            break
        page.wait_for_timeout(100)
    assert told == ["quick: ", "slow: Write it down is under way."]
    assert len(held) == 1, "three presses sent it once"

    held[0].continue_()
    page.unroute(form)
    page.wait_for_url(lambda url: not url.endswith(desk.form))
    first = page.url
    page.go_back()
    page.wait_for_url(form)
    assert not page.locator("[data-working] p").is_visible()
    assert page.input_value("main [name=title]") == "", "Back is a new form, not the old one"
    page.go_forward()
    page.wait_for_url(first)
    page.reload()
    with scope(firm.pk):
        assert Finding.objects.get().title == "Bracket loose"
