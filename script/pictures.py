"""Take the pictures of the README and the manual from the demo. Called by script/pictures."""

import argparse
import io
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pypdfium2
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE / "soak"))

from pages import PEOPLE, demo, signed_in  # noqa: E402 - it lies beside, no package

PICTURES = HERE.parent / "docs/pictures"
COLOURS = 64
WIDE, LARGE, TALL = (1400, 940), (1040, 720), (390, 844)
TABLET = (834, 1000)

#: Asked for once in a window, so that no picture is taken before its letters are there.
FONTS = """Promise.all(
  ["Familjen Grotesk", "Atkinson Hyperlegible Next", "Atkinson Hyperlegible Mono"]
  .map((name) => document.fonts.load(`16px "${name}"`)))"""

#: What leads from the first page to the picture.
type Way = Callable[[Page], None]


def follow(*names: str) -> Way:
    """Click links so named, or whose names hold these words, one page after the other."""

    def way(page: Page) -> None:
        for name in names:
            exact = page.get_by_role("link", name=name, exact=True)
            link = exact if exact.count() else page.get_by_role("link", name=name)
            with page.expect_navigation():
                link.first.click()

    return way


def detector(page: Page) -> None:
    """Open the first detector of Quillmarsh House that asks for something."""
    follow("Buildings", "Quillmarsh House")(page)
    marks = page.locator("main a[href*='/devices/'][aria-label*='nearing']")
    address = marks.first.get_attribute("href")
    page.goto(str(address))


def round_of(page: Page) -> None:
    """Open the round of the visit that is under way."""
    follow("To do")(page)
    with page.expect_navigation():
        page.locator("li.entry", has_text="under way").locator("a.button").first.click()
    follow("Open the round")(page)


def reading(page: Page) -> None:
    """Type a reading that nears its limit, on the round of Harrowfen Depot."""
    round_of(page)
    follow("Read")(page)
    page.locator("input[name=drift]").fill("1.15")
    page.wait_for_selector("#judged .verdict")


#: name, who, size [px], way from the first page
SCENES: list[tuple[str, str, tuple[int, int], Way]] = [
    ("todo", "office", WIDE, follow("To do")),
    ("device", "office", WIDE, detector),
    ("printout", "office", WIDE, follow("To do", "Open the print-out")),
    ("entry", "technician", (820, 1000), reading),
    ("owner", "owner", TALL, follow("Quillmarsh House")),
    ("manual/due", "office", LARGE, follow("Due")),
    ("manual/building", "office", LARGE, follow("Buildings", "Quillmarsh House")),
    ("manual/take-in", "office", LARGE, follow("Buildings", "Quillmarsh House", "Take in")),
    ("manual/plan", "office", LARGE, follow("Buildings", "Teasel Street", "Plan a visit")),
    ("manual/planning", "office", LARGE, follow("Planning")),
    ("manual/review", "office", LARGE, follow("To do", "Review the visit")),
    ("manual/findings", "office", LARGE, follow("Findings")),
    ("manual/drift", "office", LARGE, follow("Drift")),
    ("manual/alarms", "office", LARGE, follow("Alarms")),
    ("manual/round", "technician", TABLET, round_of),
    ("manual/alarm-log", "owner", TALL, follow("Quillmarsh House", "Write an alarm down")),
    ("manual/links", "owner", TALL, follow("Quillmarsh House", "Give your insurer")),
    ("manual/health", "principal", LARGE, follow("Health")),
    ("manual/nights", "principal", LARGE, follow("More", "Last nights")),
]


@contextmanager
def windows(browser: Browser, base: str) -> Iterator[Callable[..., BrowserContext]]:
    """Give each person one window, signed in once."""
    known: dict[str, object] = {}

    def window(who: str, size: tuple[int, int]) -> BrowserContext:
        if who not in known:
            with signed_in(browser, base, PEOPLE[who]) as context:
                known[who] = context.storage_state()
        width, height = size
        return browser.new_context(
            base_url=base,
            storage_state=known[who],  # type: ignore[arg-type]
            viewport={"width": width, "height": height},
            color_scheme="light",
            reduced_motion="reduce",
        )

    yield window


def keep(name: str, data: bytes) -> None:
    """Keep a picture with few colours: a page has hardly more, and a fifth of the bytes is left."""
    path = PICTURES / f"{name}.png"
    path.parent.mkdir(parents=True, exist_ok=True)
    with Image.open(io.BytesIO(data)) as picture:
        # Grouped by nearness: cut at medians, a rare ochre and carmine became one brown.
        few = picture.convert("RGB").quantize(
            COLOURS, method=Image.Quantize.MAXCOVERAGE, kmeans=2, dither=0
        )
        few.save(path, optimize=True)
    print(f"{path.relative_to(HERE.parent)}  {path.stat().st_size / 1000:.0f} kB", flush=True)


def report(context: BrowserContext) -> bytes:
    """Draw the first page of the report that the owner of Quillmarsh House opens."""
    page = context.new_page()
    page.goto("/")
    follow("Quillmarsh House")(page)
    link = page.get_by_role("link", name="Open the report").get_attribute("href")
    pdf = context.request.get(str(link)).body()
    drawn = pypdfium2.PdfDocument(pdf)[0].render(scale=638 / (8.5 * 72)).to_pil()
    out = io.BytesIO()
    drawn.save(out, "PNG")
    return out.getvalue()


def main() -> int:
    """Take every picture; exit 1 if one could not be taken."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--at", help="the address of a demo that runs already")
    parser.add_argument("--only", default="", help="only pictures with this in their name")
    asked = parser.parse_args()
    chromium = shutil.which("chromium") or shutil.which("google-chrome")
    missing = []
    with demo(asked.at) as base, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        with windows(browser, base) as window:
            for name, who, size, way in SCENES:
                if asked.only not in name:
                    continue
                context = window(who, size)
                page = context.new_page()
                try:
                    page.goto("/")
                    page.evaluate(FONTS)
                    way(page)
                    page.evaluate("document.fonts.ready")
                    page.wait_for_load_state("networkidle")
                    keep(name, page.screenshot())
                except Exception as error:
                    missing.append(name)
                    print(f"{name}: {error}", file=sys.stderr, flush=True)
                context.close()
            if asked.only in "report":
                keep("report", report(window("owner", TALL)))
        browser.close()
    return 1 if missing else 0


if __name__ == "__main__":
    sys.exit(main())
