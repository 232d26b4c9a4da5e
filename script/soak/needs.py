"""Walk the 60 needs in the demo as the person who has each: `script/soak/run needs`.

For each it counts clicks and typed characters from the start page to the page that answers, looks
whether the answer stands there, and reckons how long a practised person takes: the seconds of the
keystroke-level model (tests/e2e/hand.py) and those of the server. `--at ADDRESS` takes a demo that
runs already. What it prints is the table of docs/needs.md. Nothing is written but a link of the
owner's, which is ended again. The ways stand in needs.txt.
"""

import argparse
import re
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

import pypdfium2
from pages import PEOPLE, demo, signed_in
from playwright.sync_api import Page, sync_playwright

from tests.e2e.hand import Hand

HERE = Path(__file__).resolve().parent
OFFICE, TECHNICIAN, OWNER, AUTHORITY = "office", "technician", "owner", "authority"


@dataclass(frozen=True)
class Need:
    """One need, the way to its answer, and what must stand on the last page."""

    number: int
    who: str
    words: str
    way: tuple[str, ...]
    sees: str
    remark: str


def read_needs() -> list[Need]:
    """Read script/soak/needs.txt."""
    found = []
    for line in (HERE / "needs.txt").read_text().splitlines():
        if not line.startswith("#"):
            parts = re.split(r" \|(?= |$)", line)
            number, who, words, way, sees, remark = (part.strip() for part in parts)
            steps = tuple(way.split(" > ")) if way else ()
            found.append(Need(int(number), who, words, steps, sees, remark))
    return found


#: How what is taken begins, by the word that its link says.
BEGINS = {"PDF": b"%PDF-", "JSON": b"{", "report": b"%PDF-"}


def take(page: Page, words: str) -> bytes:
    """Take the file behind a link, as whoever looks; refuse what is no such file."""
    link = page.locator("main").get_by_role("link", name=re.compile(words)).first
    data = page.context.request.get(str(link.get_attribute("href"))).body()
    kind = next(kind for kind in BEGINS if kind in words)
    if not data.startswith(BEGINS[kind]):
        raise ValueError(f"behind “{words}” there is no {kind}")
    return data


def text_of(pdf: bytes) -> str:
    """Give the text of a PDF's first page."""
    return pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_range()


def step(hand: Hand, said: str, links: dict[str, str]) -> None:
    """Take one step."""
    page = hand.page
    word, _, rest = said.partition(" ")
    if word == "find":
        hand.press("/")
        hand.write(rest)
        hand.press("Enter", loads=True)
    elif word == "put":
        name, _, value = rest.partition(" ")
        hand.type(name, value)
        page.wait_for_selector("#judged .verdict, #judged .wrong-text")
    elif word == "row":
        hand.press_on(page.locator("li.entry", has_text=rest).locator("a.button").first)
    elif said == "day":
        hand.press_on(
            page.locator("main table a[href*='/due/'], main .entry a[href*='/due/']").first
        )
    elif said == "booked":
        hand.press_on(page.locator("main a[href*='/arrange/']").first)
    elif said == "open link":
        page.goto(links["shared"])
        button = page.locator("main button").first  # asked before it opens: scanners follow links
        if button.count():
            hand.press_on(button)
    elif word == "first":
        hand.press_on(page.locator(f"main a[href*='/{rest}/']").first)
    elif word == "take":
        take(page, rest)
    elif said == "verify":
        code = re.search(r"code ([0-9A-Z]{4}(?:-[0-9A-Z]{4})+)", text_of(take(page, "PDF")))
        page.goto("/verify/")
        hand.type("code", code[1])
        with page.expect_navigation():
            hand.press("Enter")
    elif word == "go":
        page.goto(rest)
    else:
        exact = page.get_by_role("link", name=said, exact=True)
        words = re.compile(said)
        hand.press_on((exact if exact.count() else page.get_by_role("link", name=words)).first)


def walk(page: Page, need: Need, links: dict[str, str], base: str) -> bool:
    """Walk one need, and print what it took; tell whether the answer stood there."""
    if not need.way:
        print(f"| {need.number} | {need.words} | {need.who} | | | | {need.remark} |", flush=True)
        return True
    page.set_default_timeout(20_000)
    hand, wrong = Hand(page), ""
    try:
        page.goto("/")
        for said in need.way:
            step(hand, said, links)
        if not re.search(need.sees, page.locator("body").inner_text(), re.IGNORECASE):
            wrong = f"NOT: no “{need.sees}”"
    except Exception as error:
        wrong = f"NOT: {str(error).splitlines()[0]}"
    if wrong:
        wrong += f" on {page.url.removeprefix(base)}"
    seconds = hand.person_s + hand.server_s
    cells = (need.number, need.words, need.who, hand.clicks, hand.keys, f"{seconds:.0f}")
    said = wrong or "; ".join(["yes", need.remark] if need.remark else ["yes"])
    print("| " + " | ".join(str(cell) for cell in (*cells, said)) + " |", flush=True)
    page.close()
    return not wrong


def give_link(page: Page) -> str:
    """Give a link to the building as its owner; the address is shown once."""
    page.goto("/")
    for name in ("Quillmarsh House", "Give your insurer"):
        with page.expect_navigation():
            page.get_by_role("link", name=name).first.click()
    page.fill("main [name=name]", "needs walk")
    with page.expect_navigation():
        page.get_by_role("button", name="Make the link").click()
    return re.search(r"https?://[^\s<\"]+/s/[^\s<\"]+", page.content()).group(0)


def end_link(page: Page) -> None:
    """End the link again."""
    page.goto("/")
    for name in ("Quillmarsh House", "Give your insurer"):
        with page.expect_navigation():
            page.get_by_role("link", name=name).first.click()
    link = page.locator("li", has_text="needs walk").first
    link.locator("summary").click()
    with page.expect_navigation():
        link.get_by_role("button").first.click()


def main() -> int:
    """Walk; exit 1 if an answer was not found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--at", help="the address of a demo that runs already")
    parser.add_argument("--only", type=int, nargs="*", help="numbers of needs")
    asked = parser.parse_args()
    missing = 0
    chromium = shutil.which("chromium") or shutil.which("google-chrome")
    with demo(asked.at) as base, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        look = {"viewport": {"width": 1280, "height": 860}}
        windows = {
            who: signed_in(browser, base, PEOPLE.get(who), **look)
            for who in (OFFICE, TECHNICIAN, OWNER, AUTHORITY)
        }
        links = {"shared": give_link(windows[OWNER].new_page())}
        print("| | need | who | clicks | keys | seconds | found |")
        print("| --: | --- | --- | --: | --: | --: | --- |")
        for need in read_needs():
            if not asked.only or need.number in asked.only:
                missing += not walk(windows[need.who].new_page(), need, links, base)
        end_link(windows[OWNER].new_page())
        browser.close()
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main())
