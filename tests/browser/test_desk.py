"""The formula desk under a maker's hands: typed, moved by keys and pointer, saved, gone back; and without scripts."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.house import House, credentials, picture, sign_in

BALM = "Causeway hand balm"
SHEA = "Shea butter"


@dataclass(frozen=True, slots=True)
class Desk:
    """The next version of the demo's balm, a draft, opened."""

    page: Any
    house: House

    def percent(self, name: str) -> Any:
        """The field of a line's percent."""
        return self.row(name).locator("td.n input")

    def row(self, name: str) -> Any:
        """The line of an ingredient."""
        return self.page.locator("#desk-table tr[data-row]").filter(
            has=self.page.get_by_role("link", name=name, exact=True)
        )

    def order(self) -> list[str]:
        """The lines from top to bottom."""
        return list(self.page.locator("#desk-table tr[data-row] th > a").all_inner_texts())

    def stored(self) -> list[tuple[Any, ...]]:
        """What the book holds of the draft: ingredient and percent, in order."""
        return self.house.facts(
            "SELECT i.name, l.percent FROM formulas_line l JOIN formulas_ingredient i ON i.id = l.ingredient_id "
            "JOIN formulas_formulaversion v ON v.id = l.version_id JOIN formulas_formula f ON f.id = v.formula_id "
            "WHERE f.name = ? AND v.state = 'draft' ORDER BY l.position",
            BALM,
        )


def open_draft(page: Any, house: House) -> Desk:
    """From signing in to the next version of the balm."""
    at = sign_in(page, house, *credentials(house))
    page.goto(f"{at}/formulas/?q=Causeway")
    page.get_by_role("main").get_by_role("link", name=BALM).first.click()
    page.get_by_text("Start the next version").click()
    page.get_by_role("button", name=re.compile(r"^Start version \d+$")).click()
    page.locator("#desk-form").wait_for()
    return Desk(page, house)


@pytest.fixture
def desk(page: Any, own_demo: House) -> Desk:
    """On a laptop."""
    return open_draft(page, own_demo)


def test_figures_follow_what_is_typed_and_nothing_is_stored_before_it_is_saved(desk: Desk) -> None:
    """The total, the line to 100 and the grams change in place; the cursor stays where the maker put it."""
    page, before = desk.page, desk.stored()
    shea = desk.percent(SHEA)
    grams = desk.row(SHEA).locator("td[id^=grams-]")
    was, weighed, where = shea.input_value(), grams.inner_text(), page.url
    firmness = page.locator("#desk-firmness svg path.band")
    drawn = firmness.get_attribute("d")

    shea.fill("90")
    shea.press("Tab")
    expect(firmness).not_to_have_attribute("d", drawn)
    expect(page.locator("#sum-percent")).to_have_class(re.compile("is-stop"))
    expect(grams).not_to_have_text(weighed)
    assert shea.input_value() == "90"
    assert page.url == where
    assert desk.stored() == before
    picture(page, "desk-1-over")

    shea.fill(was)
    shea.press("Tab")
    expect(page.locator("#sum-percent")).not_to_have_class(re.compile("is-stop"))
    expect(grams).to_have_text(weighed)


def test_a_line_is_moved_by_keys_and_by_pointer_saved_and_gone_back_in(desk: Desk) -> None:
    """The focus stays on the button that moved it; undo says what it takes back."""
    page, first = desk.page, desk.order()
    second = desk.row(first[1])
    second.locator("summary").first.focus()
    page.keyboard.press("Enter")
    second.get_by_role("button", name=re.compile("^Up")).focus()
    page.keyboard.press("Enter")
    swapped = [first[1], first[0], *first[2:]]
    expect(page.locator("#desk-table tr[data-row] th > a")).to_have_text(swapped)
    assert page.evaluate("document.activeElement.textContent").startswith("Up")

    desk.row(first[1]).locator("summary").first.click()
    grip = desk.row(swapped[0]).locator("[data-drag]").bounding_box()
    below = desk.row(swapped[1]).bounding_box()
    page.mouse.move(grip["x"] + grip["width"] / 2, grip["y"] + grip["height"] / 2)
    page.mouse.down()
    page.mouse.move(grip["x"] + 4, below["y"] + below["height"] - 3, steps=6)
    page.mouse.up()
    expect(page.locator("#desk-table tr[data-row] th > a")).to_have_text(first)

    desk.percent(SHEA).fill("1.25")
    page.get_by_role("button", name="Save version").click()
    page.get_by_text("is written down").wait_for()
    assert (SHEA, 125_000_000) in desk.stored()
    page.get_by_role("button", name=re.compile("^Undo")).click()
    page.wait_for_load_state()
    assert (SHEA, 125_000_000) not in desk.stored()
    expect(page.get_by_role("button", name=re.compile("^Redo"))).to_be_visible()


def test_the_desk_shuts_nobody_out(desk: Desk) -> None:
    """No violation in wide and narrow, light and dark, every fold open."""
    from axe_playwright_python.base import AXE_SCRIPT

    page = desk.page
    page.evaluate("document.querySelectorAll('details').forEach((fold) => { fold.open = true; })")
    page.evaluate(AXE_SCRIPT)
    wrong = []
    for width, scheme in ((1366, "light"), (360, "dark")):
        page.set_viewport_size({"width": width, "height": 800})
        page.emulate_media(color_scheme=scheme)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        found = page.evaluate("axe.run().then((found) => found.violations)")
        wrong += [(width, one["id"], one["nodes"][0]["target"]) for one in found]
        picture(page, f"desk-all-open-{width}")

    assert wrong == []


def test_without_scripts_the_buttons_do_the_same(plain_phone: Any, own_demo: House) -> None:
    """Work out again, move, save: what was typed stays through each."""
    desk = open_draft(plain_phone, own_demo)
    page, first = desk.page, desk.order()
    desk.percent(SHEA).fill("90")
    page.get_by_role("button", name="Work out again").click()
    page.wait_for_load_state()
    expect(page.locator("#sum-percent")).to_have_class(re.compile("is-stop"))
    expect(desk.percent(SHEA)).to_have_value("90")

    desk.percent(SHEA).fill("1.25")
    second = desk.row(first[1])
    second.locator("summary").first.click()
    second.get_by_role("button", name=re.compile("^Up")).click()
    page.wait_for_load_state()
    expect(page.locator("#desk-table tr[data-row] th > a")).to_have_text([first[1], first[0], *first[2:]])
    expect(desk.percent(SHEA)).to_have_value("1.25")

    page.get_by_role("button", name="Save version").click()
    page.get_by_text("is written down").wait_for()
    assert desk.stored()[0][0] == first[1]
