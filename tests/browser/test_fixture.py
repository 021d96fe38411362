"""The worked tracing fixture, entered through the screens by a browser, gives its answers exactly.

Source of the figures: a worked example computed by hand and by machine (two balms over one oil and two waxes, the
second taking in rework of the first). 295 packs are to be recovered when the first wax is recalled; following direct
links alone would find 175.
"""

from __future__ import annotations

import re
from typing import Any

from tests.browser.hands import (
    act,
    add_ingredient,
    count_in,
    fill_in,
    make,
    press,
    release,
    release_lot,
    send,
    weigh_all,
)


def test_the_worked_fixture_gives_295_packs_to_recover(bench_page: tuple[Any, str]) -> None:
    """Recalling the first wax finds the second balm through 200 g of rework, and every buyer of both."""
    page, at = bench_page
    oil, wax = add_ingredient(page, at, "Fixture oil"), add_ingredient(page, at, "Fixture wax")
    count_in(page, at, oil, "L1", "15000", "2028-06-30")
    count_in(page, at, wax, "L2", "3000", "2027-05-31")
    count_in(page, at, wax, "L3", "5000", "2028-12-31")
    page.goto(f"{at}/formulas/start/")
    fill_in(page, name="Fixture balm formula", form="Balm")
    press(page, "Start it")
    formula = str(page.url).split("/formulas/")[1].split("/")[0]
    rows = page.locator("fieldset.row-fields")
    for index, (name, percent) in enumerate((("Fixture oil", "70"), ("Fixture wax", "30"))):
        rows.nth(index).get_by_label("Ingredient").fill(name)
        rows.nth(index).get_by_label("Percent", exact=True).fill(percent)
    press(page, "Save version 1")
    press(page, "Approve version 1")
    for box in page.locator("main textarea").all():
        box.fill("A worked example: nothing of it is sold.")
    press(page, "Approve version 1")
    page.goto(f"{at}/formulas/{formula}/products/add/")
    fill_in(page, name="Fixture balm 50 g", net_amount="50", fill_g="50", life_months="24")
    press(page, "Add this product")

    make(page, at, "B1", "10000", formula, "Fixture balm")
    weigh_all(page, at, "B1", {1: ("L1", "7000"), 2: ("L2", "3000")})
    act(page, at, "B1", "finish", bulk_g="9800")
    act(page, at, "B1", "output", kind="Process waste", grams="170")
    act(page, at, "B1", "output", kind="Set aside as rework", grams="200")
    act(page, at, "B1", "output", kind="Samples of the bulk", grams="50")
    page.goto(f"{at}/batches/B1/pack/")
    fill_in(page, product="Fixture balm 50 g", units="190", grams="9540")
    press(page, "Write down the packs")
    act(page, at, "B1", "output", kind="Lost in filling", grams="10")
    release(page, at, "B1")
    rework = page.get_by_role("main").get_by_role("link", name=re.compile(r"^\d\d-L\d+$")).last.inner_text()
    page.goto(f"{at}/lots/{rework}/")
    release_lot(page)

    make(page, at, "B2", "7800", formula, "Fixture balm")
    act(page, at, "B2", "rework", lot=rework, grams="200", why="Same formula, same week.")
    weigh_all(page, at, "B2", {1: ("L1", "5600"), 2: ("L3", "2200"), 3: (rework, "200")})
    act(page, at, "B2", "finish", bulk_g="7860")
    act(page, at, "B2", "output", kind="Process waste", grams="120")
    act(page, at, "B2", "output", kind="Samples of the bulk", grams="40")
    page.goto(f"{at}/batches/B2/pack/")
    fill_in(page, product="Fixture balm 50 g", units="154", grams="7740")
    press(page, "Write down the packs")
    act(page, at, "B2", "output", kind="Lost in filling", grams="80")
    release(page, at, "B2")

    for pack, kept, destroyed in (("B1-A", "3", "2"), ("B2-A", "3", "1")):
        page.goto(f"{at}/packs/{pack}/keep/")
        fill_in(page, units=kept)
        press(page, "Keep them")
        page.goto(f"{at}/packs/{pack}/destroy/")
        fill_in(page, units=destroyed, why="Dented in filling.")
        press(page, "destroyed")
    buyers = {}
    for name in ("C1", "C2", "C3"):
        page.goto(f"{at}/recipients/add/")
        fill_in(page, kind="Shop that buys", name=f"Buyer {name}", email=f"{name.lower()}@buyer.example")
        press(page, "Add this recipient")
        buyers[name] = str(page.url).rstrip("/").split("/")[-1]
    send(page, at, buyers["C1"], [("B1-A", "60")])
    second = send(page, at, buyers["C2"], [("B1-A", "100"), ("B2-A", "80")])
    send(page, at, buyers["C3"], [("B2-A", "40"), ("B1-A", "20")])
    page.goto(f"{at}/dispatches/{second}/return/B1-A/")
    fill_in(page, units="5", reason="Sent too many.")
    press(page, "Take them back")

    page.goto(f"{at}/trace/?q=L2")
    text = page.locator("main").inner_text()
    assert re.search(r"295\s+packs", text), text
    assert "175 to recover" not in text
    assert "through another batch" in text
    for name, units in (("C1", ["60"]), ("C2", ["95", "80"]), ("C3", ["20", "40"])):
        rows = page.get_by_role("row").filter(has_text=f"Buyer {name}")
        assert sorted(row.get_by_role("cell").last.inner_text() for row in rows.all()) == sorted(units)
    page.goto(f"{at}/trace/?q=L3")
    assert re.search(r"120\s+packs", page.locator("main").inner_text())
    page.goto(f"{at}/trace/?q=B2")
    behind = page.get_by_role("table", name=re.compile("^Lots behind")).inner_text()
    assert all(code in behind for code in ("L1", "L2", "L3")), behind
