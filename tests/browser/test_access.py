"""Every main page of the demo: no axe violation, no sideways scroll, a silent console; light and dark, wide and narrow.

axe-core's rules for WCAG 2.0 to 2.2, A and AA, and its best practices; the engine comes with the test extra. A page
is loaded once for each width and looked at in both colour schemes. In the dark, and again in the narrow window, only
rules run whose answer can have changed: the dark scheme changes the values of colours and nothing else, which a test
here holds, and a narrow window changes what is seen and how large, not how things are called. Nothing is animated, so
there is no change to wait for.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

from tests.browser.house import ROOT, House, credentials, picture, sign_in

GROUPS = {
    "ingredients": (
        "ingredients/", "ingredients/catalogue/?q=butter", "ingredients/add/", "suppliers/", "articles/",
        "articles/add/", "export/",
    ),
    "formulas": (
        "formulas/", "formulas/start/", "products/", "labels/", "trace/", "complaints/", "complaints/add/", "recalls/",
        "search/?q=a",
    ),
    "batches": ("lots/", "batches/", "batches/?state=making", "batches/plan/", "journal/"),
    "packs": (
        "packs/", "places/", "recipients/", "recipients/add/", "dispatches/", "dispatches/add/", "settings/", "",
    ),
}  # fmt: skip
"""Pages by address; a group is a test of its own, so that processes share the walk evenly."""

ONE_OF = {
    "ingredients/": r"/ingredients/I-\d+/$",
    "formulas/": r"/formulas/F-\d+/$",
    "products/": r"/products/P-\d+/$",
    "lots/": r"/lots/[^/?]+/$",
    "batches/": r"/batches/\d\d-\d+/$",
    "batches/?state=making": r"/batches/\d\d-\d+/$",
    "packs/": r"/packs/[^/?]+/$",
    "dispatches/": r"/dispatches/D-\d+/$",
    "complaints/": r"/complaints/C-\d+/$",
    "labels/": r"/labels/[^/?]+/[^/?]+/$",
}
"""What the first record of a list looks like in a link; its page is walked too."""

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
ALL = {"runOnly": {"type": "tag", "values": TAGS}, "resultTypes": ["violations"]}
COLOURS = {
    "runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]},
    "resultTypes": ["violations"],
}


class Looker:
    """Goes from page to page in one width and writes down what is wrong."""

    def __init__(self, page: Any, at: str, width: int) -> None:
        from axe_playwright_python.base import AXE_SCRIPT

        self.page, self.at, self.width = page, at, width
        self.engine: str = AXE_SCRIPT
        self.wrong: list[str] = []
        self.seen: list[str] = []
        page.on("console", self.hear)
        page.on("pageerror", lambda error: self.say(f"an error on the page: {error}"))

    def hear(self, message: Any) -> None:
        """What the console complains of is wrong."""
        if message.type in {"error", "warning"}:
            self.say(f"the console says {message.text}")

    def say(self, text: str) -> None:
        """Something is wrong with the page that is open."""
        self.wrong.append(f"{self.page.url.removeprefix(self.at)}: {text}")

    def look(self, path: str) -> None:
        """One page with all its folds open, in both colour schemes."""
        page = self.page
        page.emulate_media(color_scheme="light")
        answer = page.goto(f"{self.at}/{path}")
        if answer.status != 200:
            self.say(f"answers {answer.status}")
        self.seen.append(path)
        page.evaluate("document.querySelectorAll('details').forEach((fold) => { fold.open = true; })")
        beyond = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if beyond > 0:
            self.say(f"scrolls sideways by {beyond} px")
        page.evaluate(self.engine)
        self.ask(ALL, "light")
        page.emulate_media(color_scheme="dark")
        self.ask(COLOURS, "dark")

    def ask(self, options: dict[str, Any], scheme: str) -> None:
        """Let the engine look, and take a picture where a folder for pictures is named."""
        asked = "options => axe.run(options).then(found => found.violations)"
        for one in self.page.evaluate(asked, options):
            nodes = "; ".join(str(node["target"]) for node in one["nodes"][:3])
            self.say(f"{one['id']} in the {scheme} at {nodes}")
        name = re.sub(r"\W+", "_", self.seen[-1]).strip("_") or "today"
        picture(self.page, f"{name}-{self.width}-{scheme}")

    def first_link(self, pattern: str) -> str | None:
        """The path of the first link in the open page's main part that fits."""
        links = self.page.locator("main a").evaluate_all("links => links.map(link => link.href)")
        found = next((link for link in links if re.search(pattern, link)), None)
        return str(found).removeprefix(f"{self.at}/") if found else None


@pytest.fixture(params=[1366, 360])
def looker(request: Any, chromium: Any, demo_house: House) -> Iterator[Looker]:
    """Signed in to the demo, in a wide window and in a narrow one."""
    context = chromium.new_context(viewport={"width": request.param, "height": 800})
    page = context.new_page()
    at = sign_in(page, demo_house, *credentials(demo_house))
    yield Looker(page, at, request.param)
    context.close()


@pytest.mark.parametrize("group", GROUPS)
def test_no_page_shuts_anybody_out(looker: Looker, group: str) -> None:
    """Each list, each form, and of each kind of record the first; the bench of the batch being made."""
    for path in GROUPS[group]:
        looker.look(path)
        if path in ONE_OF:
            link = looker.first_link(ONE_OF[path])
            assert link, f"{path} lists nothing"
            looker.look(link)
        if path == "batches/?state=making":
            looker.look(f"{link}bench/")

    assert looker.wrong == []


def test_the_dark_differs_in_colours_alone() -> None:
    """One place says what the dark looks like, and all it sets are colours by their figures."""
    sheets = [path.read_text(encoding="utf-8") for path in sorted(ROOT.glob("*/static/**/*.css"))]
    styles = "\n".join(sheets)
    rules = re.findall(r"@media[^{]*prefers-color-scheme: dark\) \{\s*:root \{(.*?)\}\s*\}", styles, re.S)

    assert styles.count("prefers-color-scheme") == len(rules) == 1
    assert re.fullmatch(r"(\s*--[\w-]+: #[0-9a-f]{6};)+\s*", rules[0])
    assert "transition" not in styles
    assert "animation" not in styles
