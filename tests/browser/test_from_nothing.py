"""From an empty database to a sale and back, as a maker would go: every step through the screens.

A formula of catalogue materials is written and approved; lots come in; a batch is made at the bench, packed and
released; its label is confirmed, approved and put on; packs are sold; a complaint leads back to the lots.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from playwright.sync_api import expect

from tests.browser.hands import (
    act,
    copy_ingredient,
    count_in,
    fill_in,
    make,
    press,
    release,
    send,
    weigh_all,
)
from tests.browser.house import LIGHT, PASSWORD, open_book, start


def test_a_maker_opens_a_book_and_sees_what_comes_next(page: Any, tmp_path: Path) -> None:
    """The guided start leads to an empty Today whose first steps are links."""
    house = start(tmp_path, *LIGHT)
    try:
        at = open_book(page, house)

        assert page.get_by_role("heading", level=1).is_visible()
        page.get_by_role("link", name="Copy your first ingredients from the catalogue").click()
        assert page.url.startswith(f"{at}/ingredients/catalogue/")
    finally:
        house.stop()


BALM = {"Shea butter": "50", "Beeswax": "20", "Sunflower oil": "30"}


def test_a_balm_goes_from_the_catalogue_to_a_buyer_and_a_complaint_back(bench_page: tuple[Any, str]) -> None:
    """Each world in its turn: paper, shelf, bench, label, sale; what comes back finds its lots."""
    page, at = bench_page
    formula = write_formula(page, at)
    page.goto(f"{at}/formulas/{formula}/products/add/")
    fill_in(
        page, name="Tideline hand balm 50 g", identity="Hand balm", net_amount="50", fill_g="51", shape="Round tin",
        width_mm="60", height_mm="25", life_months="18", pao_months="12", directions="Rub a little in.",
    )  # fmt: skip
    page.get_by_label("European Union").check()
    press(page, "Add this product")
    lots = stock_shelf(page, at)

    make(page, at, "TB1", "1020", formula, "Tideline hand balm")
    weigh_all(page, at, "TB1", {1: (lots[0], "510"), 2: (lots[1], "204"), 3: (lots[2], "306")})
    act(page, at, "TB1", "finish", bulk_g="1010")
    act(page, at, "TB1", "output", kind="Process waste", grams="10")
    page.goto(f"{at}/batches/TB1/pack/")
    fill_in(page, product="Tideline hand balm", units="19", grams="969")
    press(page, "Write down the packs")
    act(page, at, "TB1", "output", kind="Lost in filling", grams="41")

    approve_label(page, at)
    page.goto(f"{at}/batches/TB1/")
    press(page, "^Issue 1 for EU went on TB1-A")
    expect(page.get_by_text("TB1-A carries issue 1 for EU").first).to_be_visible()
    release(page, at, "TB1")

    page.goto(f"{at}/recipients/add/")
    fill_in(page, kind="Shop that buys", name="The Sluice Stores", email="shop@sluice.example")
    press(page, "Add this recipient")
    buyer = str(page.url).rstrip("/").split("/")[-1]
    send(page, at, buyer, [("TB1-A", "6")])
    page.goto(f"{at}/packs/TB1-A/")
    expect(page.locator(".key")).to_contain_text(re.compile(r"13\s+of 19"))

    page.goto(f"{at}/complaints/add/")
    fill_in(page, words="It smells of paint.", code_given="TB1-A", name="Odo Marsh")
    press(page, "Write it down|Write down")
    page.wait_for_url(re.compile(r"/complaints/C-\d+/"))
    expect(page.get_by_role("main").get_by_role("link", name="TB1-A").first).to_be_visible()
    page.get_by_role("link", name=re.compile("trace", re.I)).last.click()
    behind = page.get_by_role("table", name=re.compile("^Lots behind"))
    for lot in lots:
        expect(behind).to_contain_text(lot)
    buyers = page.get_by_role("row").filter(has_text="The Sluice Stores")
    expect(buyers.get_by_role("cell").last).to_have_text("6")


def write_formula(page: Any, at: str) -> str:
    """Percent lines with live working out, a sum that is 0.0001 off said exactly, then approval; its code."""
    for words, name in (("shea", "shea butter"), ("beeswax", "beeswax"), ("sunflower", "sunflower oil")):
        copy_ingredient(page, at, words, name)
    page.goto(f"{at}/formulas/start/")
    page.locator("#id_name").fill("Tideline hand balm")
    page.get_by_label("Made as").select_option("balm")
    page.get_by_label("Used on").select_option("hands")
    page.get_by_role("button", name="Start it").click()
    rows = page.locator("fieldset.row-fields")
    for index, (name, percent) in enumerate({**BALM, "Sunflower oil": "29.9999"}.items()):
        rows.nth(index).get_by_label("Ingredient").fill(name)
        rows.nth(index).get_by_label("Percent", exact=True).fill(percent)
    page.get_by_role("button", name="Work out again").click()
    page.get_by_text("0.0001 is missing from 100").wait_for()
    page.get_by_role("button", name="Save version 1").click()
    page.get_by_text("is written down").wait_for()
    page.get_by_role("button", name="Approve version 1").click()
    page.get_by_text("Only a formula of exactly 100 can be approved").wait_for()
    page.get_by_role("link", name="Back to the lines").click()
    page.locator("input[name='line-2-percent']").fill("30")
    page.get_by_role("button", name="Save version 1").click()
    page.get_by_role("button", name="Approve version 1").click()
    for box in page.locator("main textarea").all():
        box.fill("Checked against the supplier's sheet.")
    page.get_by_role("button", name="Approve version 1").click()
    page.get_by_text("is approved and fixed").wait_for()
    expect(page.get_by_text("Approved", exact=True).first).to_be_visible()
    return str(page.url).split("/formulas/")[1].split("/")[0]


def stock_shelf(page: Any, at: str) -> list[str]:
    """Count a lot of each material in and release it; their codes in the order of the lines."""
    lots: list[str] = []
    for name in BALM:
        page.goto(f"{at}/ingredients/?q={name}")
        page.get_by_role("main").get_by_role("link", name=name, exact=True).first.click()
        lots.append(f"TL-{len(lots) + 1}")
        count_in(page, at, str(page.url).rstrip("/").split("/")[-1], lots[-1], "2000", "2028-06-30")
    return lots


def approve_label(page: Any, at: str) -> None:
    """Draft it, tick off what rests on memory, answer what is asked, approve."""
    page.goto(f"{at}/labels/add/")
    fill_in(page, product="Tideline hand balm", market="European Union")
    press(page, "Draft")
    page.wait_for_url(re.compile(r"/labels/[^/]+/EU-en/$"))
    for box in page.locator("form[action$='/confirm/'] input[type=checkbox]").all():
        box.check()
    page.get_by_label("Checked against").fill("The suppliers' sheets.")
    press(page, "Write down as checked")
    expect(page.get_by_text("Nothing on this label rests on memory alone.")).to_be_visible()
    press(page, "Approve this label")
    expect(page.get_by_text("Issue 1 is approved and says what the label says today.")).to_be_visible()


def test_a_decimal_comma_is_asked_about_and_nothing_is_lost(bench_page: tuple[Any, str]) -> None:
    """In a workshop that writes points, 1,5 is never read as 15."""
    page, at = bench_page
    copy_ingredient(page, at, "cocoa", "cocoa butter")
    page.goto(f"{at}/formulas/start/")
    page.locator("#id_name").fill("Comma balm")
    page.get_by_role("button", name="Start it").click()
    row = page.locator("fieldset.row-fields").first
    row.get_by_label("Ingredient").fill("Cocoa butter")
    row.get_by_label("Percent", exact=True).fill("1,5")

    page.get_by_role("button", name="Save version 1").click()

    kept = page.locator("input[name='line-0-percent']")
    assert kept.input_value() == "1,5"
    assert "1.5" in page.locator("main").inner_text()
    assert kept.get_attribute("aria-invalid") == "true"


def test_signing_in_needs_the_right_password(bench_page: tuple[Any, str]) -> None:
    """A wrong one is said, and what was typed as e-mail stays."""
    page, _ = bench_page
    page.locator("details.who summary").click()
    page.locator("details.who").get_by_role("button", name="Sign out").click()
    page.get_by_label("E-mail").fill("nessa@saltmarsh.example")
    page.get_by_label("Password").fill("not-" + PASSWORD)

    page.get_by_role("button", name="Sign in").click()

    page.get_by_text("don't go together").wait_for()
    assert page.get_by_label("E-mail").input_value() == "nessa@saltmarsh.example"
