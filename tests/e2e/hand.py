"""Somebody at a page, whose clicks and keys are counted, with the seconds a person would take."""

import time

# The keystroke-level model: seconds of a practised person who makes no mistake. S. K. Card, T. P.
# Moran and A. Newell, The Psychology of Human-Computer Interaction (1983), chapter 8: a key by an
# average typist 0.28 (the table's "average non-secretary"), a pointing 1.1 and its press 0.2, the
# hand between mouse and keys 0.4, a thought before a step 1.35. From memory.
KEY_S, POINT_S, HOME_S, THINK_S = 0.28, 1.3, 0.4, 1.35


class Hand:
    """A hand on mouse and keys, and what it has done."""

    def __init__(self, page) -> None:
        self.page = page
        self.clicks = self.keys = self.fields = 0
        self.person_s = self.server_s = 0.0

    def click(self, what: str) -> None:
        """Click what is so called or selected; wait for the page that comes."""
        found = self.page.locator(what) if _is_selector(what) else self._named(what)
        self.press_on(found.first)

    def press_on(self, spot) -> None:
        """Click a spot that leads to another page."""
        self.clicks += 1
        self.person_s += THINK_S + POINT_S
        began = time.monotonic()
        with self.page.expect_navigation():
            spot.click()
        self.server_s += time.monotonic() - began

    def press(self, key: str, *, loads: bool = False) -> None:
        """Press one key."""
        self.keys += 1
        self.person_s += THINK_S + KEY_S
        began = time.monotonic()
        if loads:
            with self.page.expect_navigation():
                self.page.keyboard.press(key)
            self.server_s += time.monotonic() - began
        else:
            self.page.keyboard.press(key)

    def write(self, words: str) -> None:
        """Type where the cursor is."""
        self.page.keyboard.type(words)
        self.keys += len(words)
        self.person_s += KEY_S * len(words)

    def __str__(self) -> str:
        return (
            f"{self.clicks} clicks, {self.fields} fields, {self.keys} keys:"
            f" {self.person_s:.0f} s of a person, {self.server_s:.1f} s of the server"
        )

    def _named(self, words: str):
        return self.page.get_by_role("link", name=words).or_(
            self.page.get_by_role("button", name=words)
        )

    def type(self, name: str, words: str) -> None:
        """Click a field and type into it."""
        self.page.locator(f"main [name={name}]").first.fill(words)
        self.fields += 1
        self.clicks += 1
        self.keys += len(words)
        self.person_s += THINK_S + POINT_S + 2 * HOME_S + KEY_S * len(words)

    def give(self, name: str, file) -> None:
        """Give a file: the dialogue costs three clicks."""
        self.page.locator(f"main input[name={name}]").set_input_files(file)
        self.clicks += 3
        self.person_s += 3 * (THINK_S + POINT_S)


def _is_selector(what: str) -> bool:
    return what[:1] in "#.[" or what.startswith(("main ", "header ", "text=", "button", "a["))
