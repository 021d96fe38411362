"""Every main page of the demo: no axe violation, no sideways scroll, a silent console; light and dark, wide and narrow.

axe-core's rules for WCAG 2.0 to 2.2, A and AA, and its best practices; the engine comes with the test extra.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.house import House, credentials, sign_in

LISTS = (
    "", "ingredients/", "ingredients/catalogue/?q=butter", "ingredients/add/", "suppliers/", "formulas/",
    "formulas/start/", "products/",
    "articles/", "articles/add/", "lots/", "batches/", "batches/plan/", "packs/", "places/", "recipients/",
    "recipients/add/", "dispatches/", "dispatches/add/", "labels/", "trace/", "complaints/",
    "complaints/add/", "recalls/", "journal/", "settings/", "search/?q=a", "export/",
)  # fmt: skip
DETAILS = {
    "ingredients/": r"/ingredients/I-\d+/$",
    "formulas/": r"/formulas/F-\d+/$",
    "products/": r"/products/P-\d+/$",
    "lots/": r"/lots/[^/?]+/$",
    "batches/": r"/batches/\d\d-\d+/$",
    "packs/": r"/packs/[^/?]+/$",
    "dispatches/": r"/dispatches/D-\d+/$",
    "complaints/": r"/complaints/C-\d+/$",
    "labels/": r"/labels/[^/?]+/[^/?]+/$",
}
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture(
    params=[(1366, "light"), (1366, "dark"), (360, "light"), (360, "dark")],
    ids=lambda one: f"{one[0]}-{one[1]}",
)
def seen(request: Any, chromium: Any, demo_house: House) -> Iterator[tuple[Any, str, str, list[str]]]:
    """A signed-in page of one width and colour scheme, the workshop's address, a name, and the console's complaints."""
    width, scheme = request.param
    context = chromium.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme)
    page = context.new_page()
    complaints: list[str] = []
    page.on(
        "console",
        lambda message: complaints.append(message.text) if message.type in {"error", "warning"} else None,
    )
    at = sign_in(page, demo_house, *credentials(demo_house))
    yield page, at, f"{width}-{scheme}", complaints
    context.close()


def first_link(page: Any, pattern: str) -> str | None:
    """The first link on a page whose address fits."""
    for link in page.locator("main a").all():
        found = str(link.get_attribute("href") or "")
        if re.search(pattern, found):
            return found
    return None


def test_no_page_shuts_anybody_out(seen: tuple[Any, str, str, list[str]], demo_house: House) -> None:
    """Each page is looked at with all its folds open."""
    from axe_playwright_python.sync_playwright import Axe

    page, at, name, complaints = seen
    axe = Axe()
    wrong: list[str] = []
    queue = [f"{at}/{path}" for path in LISTS]
    for path, pattern in DETAILS.items():
        page.goto(f"{at}/{path}")
        if link := first_link(page, pattern):
            queue.append(f"{demo_house.address}{link}")
    for address in queue:
        page.goto(address)
        page.evaluate("document.querySelectorAll('details').forEach((fold) => { fold.open = true; })")
        short = address.removeprefix(at)
        width = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if width > 0:
            wrong.append(f"{short}: scrolls sideways by {width} px")
        found = axe.run(page, options={"runOnly": {"type": "tag", "values": TAGS}})
        for one in found.response["violations"]:
            nodes = "; ".join(str(node["target"]) for node in one["nodes"][:3])
            wrong.append(f"{short}: {one['id']} at {nodes}")
        if folder := os.environ.get("STILLROOM_SHOTS"):
            Path(folder).mkdir(parents=True, exist_ok=True)
            shot = re.sub(r"\W+", "_", short).strip("_") or "today"
            page.screenshot(path=str(Path(folder) / f"{shot}-{name}.png"), full_page=True)
        if complaints:
            wrong.append(f"{short}: the console says {complaints[:2]}")
            complaints.clear()

    assert wrong == []
    assert len(queue) >= len(LISTS) + 7
