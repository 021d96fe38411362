"""From an empty database to a sale and back, as a maker would go: every step through the screens."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from tests.browser.house import PASSWORD, open_book, start


def copy_ingredient(page: Any, at: str, words: str, name: str) -> None:
    """Copy one material of the catalogue."""
    page.goto(f"{at}/ingredients/catalogue/?q={words}")
    page.get_by_role("button", name=re.compile(f"^Copy {re.escape(name)} to my ingredients", re.I)).click()
    page.get_by_text("is among your ingredients").wait_for()


def test_a_maker_opens_a_book_and_sees_what_comes_next(page: Any, tmp_path: Path) -> None:
    """The guided start leads to an empty Today whose first steps are links."""
    house = start(tmp_path)
    try:
        at = open_book(page, house)

        assert page.get_by_role("heading", level=1).is_visible()
        page.get_by_role("link", name="Copy your first ingredients from the catalogue").click()
        assert page.url.startswith(f"{at}/ingredients/catalogue/")
    finally:
        house.stop()


def test_a_formula_is_written_reviewed_and_approved(bench_page: tuple[Any, str]) -> None:
    """Percent lines with live working out, a sum that is 0.0001 off said exactly, then approval."""
    page, at = bench_page
    for words, name in (("shea", "shea butter"), ("beeswax", "beeswax"), ("sunflower", "sunflower oil")):
        copy_ingredient(page, at, words, name)

    page.goto(f"{at}/formulas/start/")
    page.locator("#id_name").fill("Tideline hand balm")
    page.get_by_label("Made as").select_option("balm")
    page.get_by_label("Used on").select_option("hands")
    page.get_by_role("button", name="Start it").click()
    rows = page.locator("fieldset.row-fields")
    for index, (name, percent) in enumerate(
        (("Shea butter", "50"), ("Beeswax", "20"), ("Sunflower oil", "29.9999"))
    ):
        rows.nth(index).get_by_label("Ingredient").fill(name)
        rows.nth(index).get_by_label("Percent", exact=True).fill(percent)
    page.get_by_role("button", name="Work out again").click()
    page.get_by_text("0.0001 is missing from 100").wait_for()
    page.get_by_role("button", name="Save version 1").click()
    page.get_by_text("is written down").wait_for()
    page.get_by_role("link", name="Approve version 1").click()
    page.get_by_text("Only a formula of exactly 100 can be approved").wait_for()
    page.get_by_role("link", name="Back to the lines").click()
    page.locator("input[name='line-2-percent']").fill("30")
    page.get_by_role("button", name="Save version 1").click()
    page.get_by_role("link", name="Approve version 1").click()
    for box in page.locator("main textarea").all():
        box.fill("Checked against the supplier's sheet.")
    page.get_by_role("button", name="Approve version 1").click()
    page.get_by_text("is approved and fixed").wait_for()

    assert page.get_by_text("Approved", exact=True).first.is_visible()


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
