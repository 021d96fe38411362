"""Signed out in the middle of a form, on a phone: what was typed comes back, and is written with one press."""

from __future__ import annotations

import re
from typing import Any

from playwright.sync_api import expect

from tests.browser.house import House, credentials, picture, sign_in
from tests.browser.test_access import RULES

REMARK = "Thickened at once; stirred for a minute."


def test_a_remark_outlives_the_sign_in_that_ran_out(phone: Any, own_demo: House) -> None:
    """No error page of the browser, no lost word, no axe violation, no sideways scroll."""
    from axe_playwright_python.base import AXE_SCRIPT

    page, (email, password) = phone, credentials(own_demo)
    at = sign_in(page, own_demo, email, password)
    code = own_demo.fact("SELECT code FROM batches_batch WHERE state = 'making'")
    page.goto(f"{at}/batches/{code}/")
    form = page.locator("form[action$='/do/note/']")
    for fold in form.locator("xpath=ancestor::details[not(@open)]").all():
        fold.locator("summary").first.click()
    form.locator("[name='note-text']").fill(REMARK)
    page.context.clear_cookies(name="sessionid")

    def looked_at(name: str) -> None:
        picture(page, name)
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        page.evaluate(AXE_SCRIPT)
        assert page.evaluate("rules => axe.run(document, rules)", RULES)["violations"] == []

    form.get_by_role("button").last.tap()
    expect(page.get_by_text("Your sign-in had run out, so nothing was written down.")).to_be_visible()
    looked_at("signed-out-1-door")
    page.get_by_label("E-mail").fill(email)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Not written down yet")).to_be_visible()
    expect(page.get_by_role("main")).to_contain_text(REMARK)
    looked_at("signed-out-2-typed")
    page.get_by_role("button", name="Send it now").tap()

    expect(page).to_have_url(re.compile(rf"/batches/{code}/$"))
    expect(page.get_by_text("The remark is written down.")).to_be_visible()
