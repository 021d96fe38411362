"""The formula desk under a maker's hands: typed, moved by keys and pointer, saved, gone back; and without scripts."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qs

import pytest
from playwright.sync_api import expect

from tests.browser.house import House, credentials, picture, sign_in

BALM = "Causeway hand balm"
SHEA = "Shea butter"
WAX = "Beeswax"


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

    def room_for(self, name: str, percent: str) -> None:
        """Choose a line under "Make room for a line" and type what it is to take; the fold is open."""
        choice = self.page.locator("[name=room-line] option", has_text=name).get_attribute("value")
        self.page.locator("[name=room-line]").select_option(choice)
        self.page.locator("[name=room-to]").press_sequentially(percent)

    def stored(self) -> list[tuple[Any, ...]]:
        """What the book holds of the draft: ingredient and percent, in order."""
        return self.house.facts(
            "SELECT i.name, l.percent FROM formulas_line l JOIN formulas_ingredient i ON i.id = l.ingredient_id "
            "JOIN formulas_formulaversion v ON v.id = l.version_id JOIN formulas_formula f ON f.id = v.formula_id "
            "WHERE f.name = ? AND v.state = 'draft' ORDER BY l.position",
            BALM,
        )


def acts_sent(page: Any) -> list[str]:
    """What each form that the page sends from now on asks to be done; filled as it goes."""
    found: list[str] = []

    def note(request: Any) -> None:
        if request.method == "POST":
            found.extend(parse_qs(request.post_data or "").get("do", [""]))

    page.on("request", note)
    return found


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


def test_a_button_pressed_straight_after_typing_is_carried_out_once(desk: Desk) -> None:
    """Its answer is not taken for one of typing, which asks for figures alone, also where the focus is on a button."""
    page, sent = desk.page, acts_sent(desk.page)
    page.locator("#desk-room summary").click()
    desk.room_for(SHEA, "40")
    page.locator("#desk-do-room").click()
    expect(page.get_by_text("Every other line")).to_be_visible()
    expect(desk.percent(SHEA)).to_have_value("40")
    expect(desk.row(SHEA).locator("td[id^=grams-]")).to_have_text("400.0")
    expect(page.locator("#sum-percent")).to_have_text("100.00")
    assert sent.count("room") == 1
    scaled = [desk.percent(name).input_value() for name in (SHEA, WAX)]

    desk.room_for(SHEA, "30")
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        page.keyboard.press("Tab")
    expect(page.locator("#desk-do-room")).to_be_focused()
    assert sent[-1] == "reckon"
    assert [desk.percent(name).input_value() for name in (SHEA, WAX)] == scaled

    first = desk.order()
    desk.percent(SHEA).fill("41")
    desk.row(first[1]).locator("summary").first.click()
    desk.row(first[1]).get_by_role("button", name=re.compile("^Up")).click()
    expect(page.locator("#desk-table tr[data-row] th > a")).to_have_text([first[1], first[0], *first[2:]])
    expect(desk.percent(SHEA)).to_have_value("41")

    desk.percent(SHEA).fill("42")
    page.get_by_role("button", name="Save version").click()
    page.get_by_text("is written down").wait_for()
    assert sent.count("save") == 1
    assert (SHEA, 4_200_000_000) in desk.stored()


def test_a_button_pressed_before_another_is_answered_waits_and_nothing_typed_meanwhile_is_lost(
    desk: Desk,
) -> None:
    """On a slow line: what is saved is what was scaled, and what was typed moves with its line."""
    page, sent = desk.page, acts_sent(desk.page)
    slow = page.context.new_cdp_session(page)
    speed = {"offline": False, "downloadThroughput": -1, "uploadThroughput": -1}
    slow.send("Network.emulateNetworkConditions", {**speed, "latency": 600})
    first = desk.order()
    desk.row(first[1]).locator("summary").first.click()
    desk.row(first[1]).get_by_role("button", name=re.compile("^Up")).click()
    desk.percent(first[0]).fill("31.5")
    desk.percent(first[0]).press("Home")
    desk.percent(first[0]).press("ArrowRight")
    expect(page.locator("#desk-table tr[data-row] th > a")).to_have_text([first[1], first[0], *first[2:]])
    expect(desk.percent(first[0])).to_have_value("31.5")
    expect(desk.percent(first[0])).to_be_focused()
    assert page.evaluate("document.activeElement.selectionStart") == 1

    page.locator("#desk-room summary").click()
    desk.room_for(SHEA, "40")
    page.locator("#desk-do-room").click()
    page.get_by_role("button", name="Save version").click()
    page.get_by_text("is written down").wait_for()
    slow.send("Network.emulateNetworkConditions", {**speed, "latency": 0})
    assert [act for act in sent if act != "reckon"] == ["up:1", "room", "save"]
    assert (SHEA, 4_000_000_000) in desk.stored()
    assert (first[0], 3_150_000_000) not in desk.stored()


def test_each_entry_that_can_not_be_read_has_its_own_message_and_the_cursor_stays(desk: Desk) -> None:
    """Also after one that couldn't be read either; none stands beside a figure that is right."""
    page, wax = desk.page, desk.percent(WAX)
    said = desk.row(WAX).locator("td.n .wrong")
    wax.evaluate("field => { field.stays = true; }")
    for typed, words in (
        ("3,5", "Did you mean 3.5?"),
        ("abc", "is not a number"),
        ("-3", "is not above"),
        ("101", "more than 100"),
    ):
        wax.fill(typed)
        wax.press("Home")
        wax.press("ArrowRight")
        wax.evaluate("field => field.dispatchEvent(new Event('change', { bubbles: true }))")
        expect(said).to_have_count(1)
        expect(said).to_contain_text(words)
        expect(wax).to_have_attribute("aria-invalid", "true")
        expect(wax).to_have_attribute("aria-describedby", str(said.get_attribute("id")))
        expect(wax).to_be_focused()
        assert page.evaluate("document.activeElement.selectionStart") == 1

    expect(page.locator("#desk-key")).to_contain_text("unknown until every line")
    wax.fill("19.5")
    wax.press("Tab")
    expect(said).to_have_count(0)
    expect(wax).not_to_have_attribute("aria-invalid", "true")
    expect(page.locator("#desk-key")).to_contain_text("100.00")
    assert wax.evaluate("field => field.stays")


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


def test_what_is_typed_is_not_left_behind_unasked(desk: Desk) -> None:
    """Another page asks first; the desk's own buttons never do, and lead nowhere before it is saved."""
    page, before = desk.page, desk.stored()
    asked: list[str] = []

    def answer(dialog: Any) -> None:
        asked.append(dialog.type)
        dialog.dismiss()

    page.on("dialog", answer)
    desk.percent(SHEA).fill("12")
    desk.percent(SHEA).press("Tab")
    expect(page.locator("#desk-review")).to_contain_text("Save it first")
    where = page.url
    page.get_by_role("link", name="Change what it is for").click()
    expect(desk.percent(SHEA)).to_have_value("12")
    assert (asked, page.url) == (["beforeunload"], where)

    page.get_by_role("button", name=re.compile(r"^Approve version \d+$")).click()
    expect(page.locator(".form-notice")).to_contain_text("is not saved yet")
    expect(desk.percent(SHEA)).to_have_value("12")
    picture(page, "desk-2-not-saved")
    page.get_by_role("button", name="Edit the steps and phases").click()
    expect(page.locator(".form-notice")).to_contain_text("then edit the steps")
    assert desk.stored() == before
    page.get_by_role("button", name="Save version").click()
    page.get_by_text("is written down").wait_for()
    assert asked == ["beforeunload"]

    page.get_by_role("button", name=re.compile(r"^Approve version \d+$")).click()
    expect(page.locator("table.fixed-lines")).to_contain_text("12.00")
    picture(page, "desk-3-approve")
    page.go_back()
    page.get_by_role("link", name="Change what it is for").click()
    page.get_by_role("heading", name=re.compile("^Change ")).wait_for()
    assert asked == ["beforeunload"]
