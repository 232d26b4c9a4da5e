"""Look at every page of the demo as everybody: `script/soak/run pages`.

Follows every link as office, technician, principal and owner, and as nobody; one page is kept for
each route. Each is opened light and dark, 320 and 1280 px wide, and judged by axe (WCAG 2.2 A and
AA and best practice), by what the browser's console says, by whether something sticks out to the
right, by how far things jump while it loads (cumulative layout shift), and by what it weighs
without pictures. `--at ADDRESS` takes a demo that runs already, `--only WORD` routes with that
word, `--look dark-320` that look alone (it may be named twice), `--quick` each page only twice:
light and wide, dark and narrow. Prints what it finds as it goes, and a table at the end.
"""

import argparse
import contextlib
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

PASSWORD = "heron-gate-lantern"
PEOPLE = {
    "office": "office@tarnbeck.example",
    "technician": "technician@tarnbeck.example",
    "principal": "principal@tarnbeck.example",
    "owner": "owner@quillmarsh.example",
    "nobody": None,
}
SIZES = ((1280, 860), (320, 740))
THEMES = ("light", "dark")
LOOKS = {f"{theme}-{size[0]}": (theme, size) for theme in THEMES for size in SIZES}
QUICK = ("light-1280", "dark-320")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
HEAVIEST, LARGEST_JUMP = 150_000, 0.02
FIRST = {"nobody": ["/", "/accounts/login/", "/accounts/password/reset/", "/verify/"]}
IDENTIFIER = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}")
# What a link of these begins is a file, an end of the session, or a page apart.
APART = re.compile(r"\.(csv|xlsx|ics|zip|json)$|/(pdf|zip|original|logout)/?$|^/(static|field)/")

WATCH = """
window.jumped = 0;
new PerformanceObserver((list) => {
  for (const entry of list.getEntries()) if (!entry.hadRecentInput) window.jumped += entry.value;
}).observe({ type: "layout-shift", buffered: true });
"""
ASK = """() => {
  const wide = document.documentElement.scrollWidth - window.innerWidth;
  const all = [...performance.getEntriesByType("navigation"),
    ...performance.getEntriesByType("resource").filter((one) => one.initiatorType !== "img")];
  return { wide, jumped: window.jumped,
    weighs: all.reduce((sum, one) => sum + (one.encodedBodySize || 0), 0) };
}"""


@dataclass
class Found:
    """What the walk has seen."""

    pages: int = 0
    looks: int = 0
    faults: Counter = field(default_factory=Counter)
    heaviest: tuple[int, str] = (0, "")
    most_jump: tuple[float, str] = (0, "")

    def tell(self, kind: str, where: str, what: str) -> None:
        """Count a fault and print it."""
        self.faults[kind] += 1
        print(f"{kind}: {where}: {what}", flush=True)


@contextlib.contextmanager
def demo(address: str | None) -> Iterator[str]:
    """Serve the demo, or take what is served already."""
    if address:
        yield address.rstrip("/")
        return
    with tempfile.TemporaryDirectory() as folder:
        child = subprocess.Popen(
            ["script/demo", "--data", folder, "--port", "8790"], stdout=subprocess.PIPE, text=True
        )
        try:
            assert child.stdout
            for line in child.stdout:
                if "Driftbook with invented data: " in line:
                    yield line.rsplit(" ", 1)[1].strip().rstrip("/")
                    break
        finally:
            child.terminate()
            child.communicate(timeout=120)


def signed_in(browser: Browser, base: str, login: str | None, **look: object) -> BrowserContext:
    """Give a browser window of somebody."""
    context = browser.new_context(base_url=base, **look)
    context.add_init_script(WATCH)
    if login:
        page = context.new_page()
        page.goto("/accounts/login/")
        page.fill("input[name=login]", login)
        page.fill("input[name=password]", PASSWORD)
        page.click("main button[type=submit]")
        page.wait_for_url(lambda url: "/accounts/login" not in url)
        page.close()
    return context


def route_of(path: str) -> str:
    """Give what two pages of one kind have in common."""
    return IDENTIFIER.sub("ID", path.partition("?")[0])


def links(context: BrowserContext, path: str, base: str) -> tuple[str | None, list[str]]:
    """Open a page without drawing it; give where it led and what it links to."""
    answer = context.request.get(path)
    if "text/html" not in answer.headers.get("content-type", ""):
        return None, []
    text = answer.text()
    found = [link.replace("&amp;", "&") for link in re.findall(r'href="(/[^"#]*)', text)]
    if not answer.ok:
        print(f"answer {answer.status}: {path}", flush=True)
    return urlsplit(answer.url).path, found


def every_page(context: BrowserContext, who: str, base: str, only: str) -> list[str]:
    """Follow every link; keep one page of each route."""
    waiting, kept, met = list(FIRST.get(who, ["/"])), {}, set()
    while waiting:
        path = waiting.pop(0)
        route = route_of(path)
        if route in met or APART.search(path.partition("?")[0]):
            continue
        met.add(route)
        landed, found = links(context, path, base)
        if landed is None:
            continue
        kept.setdefault(route_of(landed), path)
        waiting.extend(found)
    return [path for route, path in kept.items() if only in route]


def look(page: Page, path: str, where: str, axe: Axe, found: Found) -> None:
    """Open one page one way, and judge it."""
    said: list[str] = []
    page.on("console", lambda line: said.append(line.text) if line.type == "error" else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(path, wait_until="networkidle")
    found.looks += 1
    for line in said:
        found.tell("console", where, line)
    for fault in axe.run(page, options={"runOnly": RULES}).response["violations"]:
        for node in fault["nodes"][:3]:
            found.tell(f"axe {fault['id']}", where, node["html"][:160])
    seen = page.evaluate(ASK)
    if seen["wide"] > 0:
        found.tell("too wide", where, f"{seen['wide']} px stick out")
    if seen["jumped"] > LARGEST_JUMP:
        found.tell("jumps", where, f"{seen['jumped']:.3f}")
    if seen["weighs"] > HEAVIEST:
        found.tell("heavy", where, f"{seen['weighs'] / 1000:.0f} kB")
    found.heaviest = max(found.heaviest, (seen["weighs"], where))
    found.most_jump = max(found.most_jump, (seen["jumped"], where))


def walk(
    browser: Browser, base: str, who: str, only: str, found: Found, *, looks: Iterable[str]
) -> None:
    """Look at everything that one person can reach."""
    axe = Axe()
    with signed_in(browser, base, PEOPLE[who]) as context:
        pages = every_page(context, who, base, only)
    print(f"{who}: {len(pages)} pages", flush=True)
    found.pages += len(pages)
    for name in looks:
        theme, (width, height) = LOOKS[name]
        view = {"viewport": {"width": width, "height": height}, "color_scheme": theme}
        with signed_in(browser, base, PEOPLE[who], reduced_motion="reduce", **view) as context:
            for path in pages:
                page = context.new_page()
                look(page, path, f"{who} {theme} {width} {path}", axe, found)
                page.close()
        print(f"{who}: {name} done, {found.looks} looks so far", flush=True)


def main() -> int:
    """Walk as everybody; exit 1 if anything was found."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--at", help="the address of a demo that runs already")
    parser.add_argument("--only", default="", help="only routes with this in them")
    parser.add_argument("--quick", action="store_true", help="two looks at each page, not four")
    parser.add_argument("--look", choices=LOOKS, action="append", help="this look alone")
    parser.add_argument("--who", choices=PEOPLE, action="append")
    asked = parser.parse_args()
    chromium = shutil.which("chromium") or shutil.which("google-chrome")
    found = Found()
    with demo(asked.at) as base, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        for who in asked.who or PEOPLE:
            looks = asked.look or (QUICK if asked.quick else LOOKS)
            walk(browser, base, who, asked.only, found, looks=looks)
        browser.close()
    print(
        f"\n{found.pages} pages of {len(asked.who or PEOPLE)} people, looked at {found.looks} times"
    )
    print(f"heaviest: {found.heaviest[0] / 1000:.0f} kB, {found.heaviest[1]}")
    print(f"most jump: {found.most_jump[0]:.3f}, {found.most_jump[1]}")
    for kind, count in found.faults.most_common():
        print(f"{count:5}  {kind}")
    return 1 if found.faults else 0


if __name__ == "__main__":
    sys.exit(main())
