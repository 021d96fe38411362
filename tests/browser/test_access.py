"""Every kind of page of the demo: no axe violation, no sideways scroll, a silent console; light wide, dark narrow.

axe-core's rules for WCAG 2.0 to 2.2, A and AA, and its best practices; the engine comes with the test extra. The walk
follows the links of the pages themselves, so a new page is looked at as soon as something leads to it. Each kind is
looked at once in a wide, light window and once in a narrow, dark one. The dark changes the values of colours and
nothing else, which a test here holds. Nothing is animated, so there is no change to wait for.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.urls import Resolver404, resolve

from tests.browser.house import ROOT, House, credentials, picture, sign_in

WORLDS = {
    "house": ("", "settings/", "export/", "journal/", "search/?q=a"),
    "formulas": (
        "formulas/", "formulas/start/", "products/", "ingredients/", "ingredients/catalogue/?q=butter", "costs/",
        "suppliers/", "articles/",
    ),
    "batches": ("batches/?state=making", "batches/", "lots/", "packs/", "complaints/", "recalls/", "trace/", "places/"),
    "labels": ("labels/", "labels/sheets/"),
}  # fmt: skip
"""Where the walk through each world's pages begins; a world is a test of its own, so that processes share them."""

KINDS = {"house": 12, "formulas": 45, "batches": 38, "labels": 7}
"""How many kinds of pages a world has at least: a walk that found fewer has lost its way."""

NOT_PAGES = {"sign-out", "export-zip", "lot-ledger", "proof", "sheet", "document"}
"""What answers with a file, or ends the walk."""

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
RULES = {"runOnly": {"type": "tag", "values": TAGS}, "resultTypes": ["violations"]}
HREFS = "links => links.map(link => new URL(link.getAttribute('href'), location.href).href)"


class Looker:
    """Goes from page to page in one window and writes down what is wrong."""

    def __init__(self, page: Any, at: str, width: int, scheme: str) -> None:
        from axe_playwright_python.base import AXE_SCRIPT

        self.page, self.at, self.width, self.scheme = page, at, width, scheme
        self.engine: str = AXE_SCRIPT
        self.wrong: list[str] = []
        self.kinds: set[str] = set()
        page.on("console", self.hear)
        page.on("pageerror", lambda error: self.say(f"an error on the page: {error}"))

    def hear(self, message: Any) -> None:
        """What the console complains of is wrong."""
        if message.type in {"error", "warning"}:
            self.say(f"the console says {message.text}")

    def say(self, text: str) -> None:
        """Something is wrong with the page that is open."""
        self.wrong.append(f"{self.page.url.removeprefix(self.at)}: {text}")

    def kind_of(self, address: str, world: str) -> str | None:
        """What kind of page of this world an address leads to; None for another world's, and for files."""
        if not address.startswith(self.at) or "csv" in address:
            return None
        path = re.sub(r"^\w+://[^/]+|[?#].*$", "", address)
        try:
            found = resolve(path)
        except Resolver404:
            self.say(f"links to {address}, which is nothing")
            return None
        if found.namespace != world or found.url_name in NOT_PAGES:
            return None
        return f"{found.url_name}{' asked' if '?' in address else ''}"

    def walk(self, world: str) -> None:
        """From where a world begins, one page of each kind that the links lead to."""
        waiting = [f"{self.at}/{path}" for path in WORLDS[world]]
        while waiting:
            address = waiting.pop(0)
            kind = self.kind_of(address, world)
            if kind is None or kind in self.kinds:
                continue
            self.kinds.add(kind)
            self.look(address, kind)
            waiting += self.page.locator("a[href]").evaluate_all(HREFS)

    def look(self, address: str, kind: str) -> None:
        """One page with all its folds open."""
        page = self.page
        answer = page.goto(address)
        if answer.status != 200:
            self.say(f"answers {answer.status}")
        page.evaluate("document.querySelectorAll('details').forEach((fold) => { fold.open = true; })")
        beyond = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if beyond > 0:
            self.say(f"scrolls sideways by {beyond} px")
        page.evaluate(self.engine)
        for one in page.evaluate("options => axe.run(options).then(found => found.violations)", RULES):
            nodes = "; ".join(str(node["target"]) for node in one["nodes"][:3])
            self.say(f"{one['id']} at {nodes}")
        picture(page, f"{kind.replace(' ', '-')}-{self.width}-{self.scheme}")


@pytest.fixture(params=[(1366, "light"), (360, "dark")], ids=["wide", "narrow"])
def looker(request: Any, chromium: Any, demo_house: House) -> Iterator[Looker]:
    """Signed in to the demo, in a wide window and in a narrow one."""
    width, scheme = request.param
    context = chromium.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme)
    page = context.new_page()
    at = sign_in(page, demo_house, *credentials(demo_house))
    yield Looker(page, at, width, scheme)
    context.close()


@pytest.mark.parametrize("world", WORLDS)
def test_no_page_shuts_anybody_out(looker: Looker, world: str) -> None:
    """Each kind of list, form and record that the links of the demo lead to."""
    looker.walk(world)

    assert looker.wrong == []
    assert len(looker.kinds) >= KINDS[world], sorted(looker.kinds)


def test_the_dark_differs_in_colours_alone() -> None:
    """One place says what the dark looks like, and all it sets are colours by their figures."""
    sheets = [path.read_text(encoding="utf-8") for path in sorted(ROOT.glob("*/static/**/*.css"))]
    styles = "\n".join(sheets)
    rules = re.findall(r"@media[^{]*prefers-color-scheme: dark\) \{\s*:root \{(.*?)\}\s*\}", styles, re.S)

    assert styles.count("prefers-color-scheme") == len(rules) == 1
    assert re.fullmatch(r"(\s*--[\w-]+: #[0-9a-f]{6};)+\s*", rules[0])
    assert "transition" not in styles
    assert "animation" not in styles
