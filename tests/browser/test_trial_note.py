"""What a trial showed, written on a phone with a photo, and found beside the version on a laptop."""

from __future__ import annotations

import re
from typing import Any

from tests.browser.house import House, credentials, picture, sign_in
from tests.world import PICTURE

VARIANT = "Causeway hand balm, without beeswax"


def test_what_a_trial_showed_is_written_on_a_phone_and_read_beside_its_version(
    plain_phone: Any, own_demo: House
) -> None:
    """Without scripts; a slip in one field keeps the others and the photo; the note is put right afterwards."""
    page = plain_phone
    at = sign_in(page, own_demo, *credentials(own_demo))
    page.goto(f"{at}/formulas/?q=without+beeswax")
    page.get_by_role("main").get_by_role("link", name=VARIANT).first.click()
    trials = page.get_by_role("region", name="What trials showed")
    assert "at 30 °C" in trials.inner_text()
    picture(page, "trial-1-version")
    trials.locator("p").filter(has_text="Trial batch").get_by_role("link").first.click()
    batch = page.url.partition("#")[0]

    page.get_by_text("Write down what it showed").click()
    page.get_by_label("Temperature where it stood").fill("a warm sill")
    page.get_by_label("Firmness").select_option("Too soft")
    page.get_by_label("Look", exact=True).fill("Beads after the post")
    page.get_by_label("Photo").set_input_files(
        {"name": "after-the-post.png", "mimeType": "image/png", "buffer": PICTURE}
    )
    picture(page, "trial-2-form")
    page.get_by_role("button", name="Write it down").and_(page.locator("#trial-note button")).click()
    assert page.get_by_label("Look", exact=True).input_value() == "Beads after the post"
    assert page.get_by_text("after-the-post.png").first.is_visible()
    page.get_by_label("Temperature where it stood").fill("33")
    page.locator("#trial-note").get_by_role("button", name="Write it down").click()
    page.get_by_text("is written down").first.wait_for()
    assert page.get_by_role("link", name=re.compile("after-the-post.png")).is_visible()
    picture(page, "trial-3-written")

    note = page.locator(".trial-notes > li").filter(has_text="Beads after the post")
    note.get_by_role("link", name=re.compile("^Put this note right")).click()
    page.get_by_label("Temperature where it stood").fill("31")
    page.get_by_label("What was wrong with it").fill("Misread")
    page.get_by_role("button", name="Write it down").click()
    page.get_by_text("1 note before it").first.wait_for()
    assert page.url.partition("#")[0] == batch

    page.set_viewport_size({"width": 1366, "height": 900})
    page.goto(f"{at}/formulas/?q=without+beeswax")
    page.get_by_role("main").get_by_role("link", name=VARIANT).first.click()
    text = page.get_by_role("region", name="What trials showed").inner_text()
    assert "at 31 °C" in text
    assert "at 33 °C" not in text
    page.get_by_role("region", name="What trials showed").scroll_into_view_if_needed()
    picture(page, "trial-4-version-wide")
