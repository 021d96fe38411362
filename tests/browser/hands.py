"""What a maker's hands do on the screens, for walks that make something."""

from __future__ import annotations

import re
from typing import Any

from tests.browser.house import PASSWORD


def copy_ingredient(page: Any, at: str, words: str, name: str) -> None:
    """Copy one material of the catalogue."""
    page.goto(f"{at}/ingredients/catalogue/?q={words}")
    page.get_by_role("button", name=re.compile(f"^Copy {re.escape(name)} to my ingredients", re.I)).click()
    page.get_by_text("is among your ingredients").wait_for()


def go(page: Any, address: str) -> None:
    """Open a page, unless it is the one that the last act led to."""
    if str(page.url).split("#")[0] != address:
        page.goto(address)


def fill_in(page: Any, **fields: str) -> None:
    """Fill fields by their names; a select takes its option's label."""
    for name, value in fields.items():
        box = page.locator(f"main [name='{name.replace('__', '-')}']:visible").first
        if box.evaluate("node => node.tagName") == "SELECT":
            options = box.locator("option").all_inner_texts()
            box.select_option(label=next(one for one in options if value in one))
        else:
            box.fill(value)


def press(page: Any, words: str) -> None:
    """Press the button of these words."""
    page.get_by_role("main").get_by_role("button", name=re.compile(words)).first.click()
    page.wait_for_load_state()


def unfold(inside: Any) -> None:
    """Open the closed fold that something lies in, as a maker would before using it."""
    for fold in inside.locator("xpath=ancestor::details[not(@open)]").all():
        fold.locator("summary").first.click()


def add_ingredient(page: Any, at: str, name: str) -> str:
    """Add an ingredient of one's own with a composition of one substance; returns its code."""
    page.goto(f"{at}/ingredients/add/")
    fill_in(page, name=name)
    page.locator("main form button.do").last.click()
    page.wait_for_url(re.compile(r"/ingredients/I-\d+/"))
    return str(page.url).rstrip("/").split("/")[-1]


def count_in(page: Any, at: str, ingredient: str, code: str, grams: str, until: str) -> None:
    """Count a lot in under a code of our own, and release it."""
    page.goto(f"{at}/ingredients/{ingredient}/")
    page.get_by_role("link", name="Count in the shelf").click()
    fill_in(page, code=code, amount_amount=grams, good_until=until)
    press(page, "Count it in|Write")
    go(page, f"{at}/lots/{code}/")
    release_lot(page)


def release_lot(page: Any) -> None:
    """Release the lot whose page is open."""
    form = page.locator("form[action$='/decide/']")
    form.locator("[name$='became'][value='released']").check()
    form.locator("[name$='basis']").fill("Looked at, weighed and smelled; as it should be.")
    form.get_by_role("button", name="Write the decision").click()
    page.wait_for_load_state()
    assert page.locator(".facts").get_by_text("Released").first.is_visible(), page.locator(
        "main"
    ).inner_text()


def weigh_all(page: Any, at: str, batch: str, lots: dict[int, tuple[str, str]]) -> None:
    """Weigh each line at the bench. lots: by line, (lot, grams)."""
    for line, (lot, grams) in lots.items():
        where = page.locator("[data-slot=where]")
        if "/bench/" not in page.url or not re.search(rf"line {line}$", where.inner_text()):
            page.goto(f"{at}/batches/{batch}/bench/?line={line}")
        for name, words in (("scan", lot), ("why", "As the worked example has it.")):
            unfold(page.locator(f"[name='{name}']"))
            page.locator(f"[name='{name}']").fill(words)
        page.locator("[name='grams']").fill(grams)
        page.get_by_role("button", name="Record").click()
        page.get_by_text(f"of {lot} are in.").wait_for()


def act(page: Any, at: str, batch: str, name: str, **fields: str) -> None:
    """Do one act from the batch's page."""
    go(page, f"{at}/batches/{batch}/")
    form = page.locator(f"form[action$='/do/{name}/']")
    unfold(form)
    for key, value in fields.items():
        box = form.locator(f"[name='{name}-{key}']").first
        if box.evaluate("node => node.tagName") == "SELECT":
            options = box.locator("option").all_inner_texts()
            box.select_option(label=next(one for one in options if value in one))
        else:
            box.fill(value)
    form.get_by_role("button").last.click()
    page.wait_for_load_state()


def make(page: Any, at: str, code: str, total: str, formula: str, product: str) -> None:
    """Plan and start a batch under a code of our own."""
    page.goto(f"{at}/batches/plan/?formula={formula}")
    fill_in(page, total_g=total, code=code, product=product)
    press(page, "Write down the plan")
    page.wait_for_url(re.compile(rf"/batches/{code}/"))
    for box in page.locator("form[action$='/do/start/'] input[type=checkbox]").all():
        box.check()
    press(page, "Start making")


def release(page: Any, at: str, batch: str) -> None:
    """Judge what stands open, and release."""
    go(page, f"{at}/batches/{batch}/")
    while page.get_by_role("link", name=re.compile("^Judge")).count():
        page.get_by_role("link", name=re.compile("^Judge")).first.click()
        page.locator("[name='accepted'][value='yes']").check()
        fill_in(page, text="Within what the worked example allows.")
        press(page, "Write down the judgement")
    form = page.locator("form[action$='/do/release/']")
    unfold(form)
    for box in page.locator("[name^='point-']").all():
        box.fill("As the worked example has it.")
    form.locator("[name='release-decision'][value='released']").check()
    form.locator("[name='release-password']").fill(PASSWORD)
    form.get_by_role("button").last.click()
    page.wait_for_load_state()
    assert page.get_by_text("signed and written down").is_visible(), page.locator("main").inner_text()


def send(page: Any, at: str, to: str, lines: list[tuple[str, str]]) -> str:
    """Send packs; returns the dispatch's code. lines: (pack, units)."""
    page.goto(f"{at}/dispatches/add/?to={to}")
    for index, (pack, units) in enumerate(lines):
        page.locator(f"[name='row-{index}-pack']").fill(pack)
        page.locator(f"[name='row-{index}-units']").fill(units)
    press(page, "Write down the dispatch")
    page.wait_for_url(re.compile(r"/dispatches/D-\d+/"))
    return str(page.url).rstrip("/").split("/")[-1]
