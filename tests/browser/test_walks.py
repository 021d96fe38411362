"""Walks through the demo as its makers go: from a complaint to its cause, to a proof, to a copy of everything."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path
from typing import Any

from playwright.sync_api import expect
from pypdf import PdfReader

from batches.demo_data.calendar import PUZZLE_LOT
from tests.browser.house import House, credentials, picture, sign_in

PRODUCTS = ("Causeway Hand Balm", "Net-Mender's Body Bar")
"""What the petals that were off came into, through an infusion."""


def tab_to(page: Any, wanted: Any) -> None:
    """Press Tab until something has the focus, and see that it shows there."""
    for _ in range(40):
        page.keyboard.press("Tab")
        if wanted.evaluate("node => node === document.activeElement"):
            assert wanted.evaluate("node => getComputedStyle(node).outlineStyle") != "none"
            return
    raise AssertionError(f"Tab never comes to {wanted}")


def test_a_complaint_leads_to_the_lot_that_was_off_and_to_all_it_reached(
    phone: Any, demo_house: House
) -> None:
    """Back from one bar to its lots; forward from the petals to a balm and a bar, through the infusion."""
    page, house = phone, demo_house
    at = sign_in(page, house, *credentials(house))
    lot = house.fact("SELECT code FROM batches_lot WHERE supplier_lot = ?", PUZZLE_LOT)
    page.goto(f"{at}/complaints/")
    page.get_by_role("row").filter(has_text="dark specks").get_by_role("link").first.tap()
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile(r"^Complaint C-\d+$"))
    picture(page, "walk-1-complaint")

    page.get_by_role("link", name="See the trace").tap()

    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("^What stands behind "))
    behind = page.get_by_role("table", name=re.compile("^Lots behind"))
    row = behind.get_by_role("row").filter(has_text=PUZZLE_LOT)
    expect(row).to_contain_text("through")
    picture(page, "walk-2-behind")

    row.get_by_role("link", name=lot).tap()

    expect(page.get_by_role("heading", level=1)).to_have_text(f"Lot {lot}")
    expect(page.locator(".facts")).to_contain_text("Hold")
    assert house.fact("SELECT count(*) FROM batches_hold h JOIN batches_lot l ON l.id = h.lot_id "
                      "WHERE l.code = ? AND h.closed_at IS NULL", lot) == 1  # fmt: skip
    picture(page, "walk-3-lot")

    page.get_by_role("main").get_by_role("link", name="Trace", exact=True).first.tap()

    expect(page.get_by_role("heading", level=1)).to_have_text(f"Where lot {lot} went")
    packs = page.get_by_role("table", name=re.compile("^Packs and where"))
    for product in PRODUCTS:
        expect(packs.get_by_role("row").filter(has_text=product).first).to_contain_text("on hold")
    reached = page.get_by_role("table", name="Batches reached").get_by_role("row")
    expect(reached.filter(has_text="weighed in directly")).to_have_count(1)
    expect(reached.filter(has_text="weighed in directly")).to_contain_text("Calendula in sunflower oil")
    through = " ".join(reached.filter(has_text="through another batch").all_inner_texts())
    held = [code for (code,) in house.facts("SELECT code FROM batches_batch WHERE held")]
    assert len(held) == 2
    assert all(code in through for code in held)
    out = sum(
        int(row.get_by_role("cell").last.inner_text()) for row in rows_of(page, re.compile("^Recipients"))
    )
    shown = re.search(r"(\d+)\s+packs\s+are out of the house", page.get_by_role("main").inner_text())
    assert shown
    assert out == int(shown[1]) > 0
    picture(page, "walk-4-forward")


def rows_of(page: Any, name: Any) -> list[Any]:
    """The rows of a table without its head."""
    return list(page.get_by_role("table", name=name).locator("tbody tr").all())


def test_the_proof_of_a_label_is_a_pdf(page: Any, demo_house: House) -> None:
    """From the list to the label to its proof; the paper names the product and the declaration's first name."""
    at = sign_in(page, demo_house, *credentials(demo_house))
    page.goto(f"{at}/labels/")
    page.get_by_role("row").filter(has_text="Causeway Hand Balm").get_by_role("link").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Label for the European Union")
    first = page.locator(".declared").get_by_role("link").first.inner_text()

    with (
        page.expect_response(re.compile(r"/proof\.pdf$")) as answer,
        page.expect_download() as download,
    ):
        page.get_by_role("link", name="Proof as PDF").click()

    assert answer.value.headers["content-type"] == "application/pdf"
    assert download.value.suggested_filename.endswith(".pdf")
    paper = Path(download.value.path()).read_bytes()
    assert paper.startswith(b"%PDF-")
    text = PdfReader(io.BytesIO(paper)).pages[0].extract_text()
    assert "Causeway Hand Balm" in text
    assert first in text


def test_everything_is_taken_out_and_found_as_it_was_written(phone: Any, own_demo: House) -> None:
    """The copy comes as a zip with its tables and papers, the page and the journal say so, and the check agrees."""
    page, house = phone, own_demo
    at = sign_in(page, house, *credentials(house))
    page.goto(f"{at}/export/")
    expect(page.get_by_text("Nobody has taken the records out yet.")).to_be_visible()
    picture(page, "walk-5-export")

    with page.expect_download() as download:
        page.get_by_role("button", name="Download all records").tap()

    assert download.value.suggested_filename.endswith(".zip")
    with zipfile.ZipFile(download.value.path()) as records:
        assert records.testzip() is None
        names = records.namelist()
        rows = records.read("tables/batches.lot.csv").decode("utf-8-sig").splitlines()
    assert len(rows) - 1 == house.fact("SELECT count(*) FROM batches_lot")
    papers = {name.removeprefix("papers/") for name in names if name.startswith("papers/")}
    assert papers
    assert papers == {sha256 for (sha256,) in house.facts("SELECT sha256 FROM makers_document")}
    page.reload()
    expect(page.get_by_text(re.compile(r"Last taken out on .* by Íde Saltreed"))).to_be_visible()
    page.get_by_role("link", name="Check the records").tap()
    expect(page.get_by_text("Everything is as it was written")).to_be_visible()
    entries = house.fact("SELECT max(number) FROM makers_journalentry")
    assert house.facts("SELECT user_label FROM makers_journalentry WHERE number = ?", entries) == [
        ("Íde Saltreed",)
    ]


def test_a_form_is_filled_and_sent_from_the_keyboard_alone(page: Any, own_demo: House) -> None:
    """Past the mast by the skip link, from field to field by Tab, sent by Enter; the focus always shows."""
    house = own_demo
    at = sign_in(page, house, *credentials(house))
    page.goto(f"{at}/recipients/add/")
    skip = page.get_by_role("link", name=re.compile("^Skip"))
    tab_to(page, skip)
    page.keyboard.press("Enter")
    expect(page).to_have_url(re.compile(r"#"))

    tab_to(page, page.get_by_label("Kind"))
    page.keyboard.type("Person")
    for label, words in (
        ("Name", "Wilmot Sandreed"),
        ("E-mail", "wilmot@sandreed.example"),
        ("Telephone", ""),
    ):
        tab_to(page, page.get_by_label(label, exact=True))
        page.keyboard.type(words)
    tab_to(page, page.get_by_role("button", name="Add this recipient"))
    page.keyboard.press("Enter")

    expect(page).to_have_url(re.compile(r"/recipients/TO-\d+/(#main)?$"))
    expect(page.get_by_role("main")).to_contain_text("Wilmot Sandreed")
    assert house.facts(
        "SELECT c.name, c.email, r.kind FROM batches_recipient r JOIN makers_contact c ON c.id = r.contact_id "
        "ORDER BY r.id DESC LIMIT 1"
    ) == [("Wilmot Sandreed", "wilmot@sandreed.example", "person")]
