"""Leaving the desk by its buttons: nothing typed is lost, and what is approved is what the page shows."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from formulas.actions.formulas import save_version, start_formula
from formulas.models import FormulaVersion
from makers.actions import By
from tests.formulas.factories_ingredients import make_ingredient
from tests.formulas.pages import page, text_of, url
from tests.formulas.sent import sent_back

D = Decimal
DESK = "formulas/F-001/"
APPROVE = DESK + "1/approve/"
WAYS = {
    "approve": APPROVE,
    "steps": DESK + "1/steps/",
    "product": DESK + "products/add/",
    "compare": "formulas/compare/?left=F-001.1&right=F-001.1",
    "variant": DESK + "1/variant/",
}


@pytest.fixture
def draft(by: By) -> FormulaVersion:
    """A draft of 20 % wax, half a percent of vitamin and the rest oil, with one step."""
    version = start_formula(by, name="Reed balm", kind="leave-on", form="balm", body_area="body")
    lines = [
        {"ingredient": make_ingredient(by, "Rice wax"), "percent": D(20)},
        {"ingredient": make_ingredient(by, "Vitamin E"), "percent": D("0.5"), "purpose": "antioxidant"},
        {"ingredient": make_ingredient(by, "Plum kernel oil"), "kind": "to_100"},
    ]
    phases = [{"letter": "A", "name": "Melt", "lines": lines}]
    return save_version(by, version=version, phases=phases, steps=[{"text": "Melt"}], edit=version.edit)


def sent(client: Client, by: By, act: str, **changes: str) -> Any:
    """Send the desk's form with changes; "line-0-percent" is written line_0_percent."""
    data = sent_back(client, url(by, DESK))
    data |= {
        name.replace("_", "-") if name.startswith("line") else name: [text] for name, text in changes.items()
    }
    return client.post(url(by, DESK), {**data, "do": [act]})


def state(version: FormulaVersion) -> tuple[int, str, list[Decimal | None]]:
    """What a silent save or an approval would change."""
    version.refresh_from_db()
    return version.edit, version.state, [line.percent for line in version.lines.all()]


@pytest.mark.parametrize("act", WAYS)
def test_no_way_out_is_taken_while_something_typed_is_not_saved(
    at_home: Client, by: By, draft: FormulaVersion, act: str
) -> None:
    """The desk comes back with a sentence and all that was typed; nothing is written by that."""
    was = state(draft)

    response = sent(at_home, by, act, line_0_percent="10", line_3_ingredient="Rice wax", line_3_percent="60")
    shown = text_of(response)

    assert response.status_code == 200
    assert "What you changed here is not saved yet. Save it first" in shown
    assert re.search(r'name="line-0-percent" value="10"', shown)
    assert re.search(r'name="line-3-percent" value="60"', shown)
    assert state(draft) == was


@pytest.mark.parametrize("act", WAYS)
def test_an_untouched_desk_is_left(at_home: Client, by: By, draft: FormulaVersion, act: str) -> None:
    """Also at another mass, which nobody saves, and with a figure written in other words."""
    for changes in ({}, {"mass": "250"}, {"line_0_percent": "20.0"}, {"line_0_percent": " 20 "}):
        response = sent(at_home, by, act, **changes)

        assert (response.status_code, response.headers.get("Location")) == (303, url(by, WAYS[act])), changes
        assert at_home.get(url(by, WAYS[act])).status_code == 200


@pytest.mark.parametrize(
    "changes",
    [
        {"line_1_percent": "a little"},
        {"line_1_ingredient": "Moon dust"},
        {"line_1_purpose": ""},
        {"line_2_phase": "B"},
        {"ph_low": "5"},
        {"line_3_purpose": "colour"},
    ],
    ids=str,
)
def test_every_change_is_one_also_where_it_can_not_be_read(
    at_home: Client, by: By, draft: FormulaVersion, changes: dict[str, str]
) -> None:
    """A name that nobody knows, a purpose taken out, another phase, the pH."""
    assert "is not saved yet" in text_of(sent(at_home, by, "approve", **changes))


def test_an_ingredient_put_away_since_keeps_nobody_on_the_desk(
    at_home: Client, by: By, draft: FormulaVersion
) -> None:
    """Its line can't be saved anew, but it was not typed either."""
    line = draft.lines.first()
    assert line is not None
    line.ingredient.active = False
    line.ingredient.save()

    assert sent(at_home, by, "approve").status_code == 303


def test_an_older_desk_is_told_what_stands_there_now(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """It was saved elsewhere meanwhile: the page is not taken for what is approved."""
    data = sent_back(at_home, url(by, DESK))
    sent(at_home, by, "save", line_0_percent="30")

    shown = text_of(at_home.post(url(by, DESK), {**data, "do": ["approve"]}))

    assert "changed in another window" in shown
    assert "Rice wax: 30 % there now, 20 % here." in shown


def test_the_desk_says_what_waits_for_a_save(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """Beside the review of the typed lines, in the page and in the fragment."""
    data = sent_back(at_home, url(by, DESK)) | {"line-0-percent": ["10"], "do": ["reckon"]}
    for headers in ({}, {"HX-Request": "true"}):
        shown = text_of(at_home.post(url(by, DESK), data, headers=headers))
        assert "<small>Save it first. " in shown
        assert "data-unsaved" in shown
        assert "Drop what is not saved" in shown
    assert "Save it first" not in page(at_home, by, DESK)
    assert "data-unsaved" not in page(at_home, by, DESK)


def test_the_approval_shows_what_it_fixes(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """Every line with its percent, what the line to 100 takes, and the save that was looked at."""
    shown = page(at_home, by, APPROVE)
    rows = [
        " ".join(re.sub("<[^>]+>", " ", row).split())
        for row in re.findall("<tr>(.*?)</tr>", shown, flags=re.DOTALL)
    ]

    assert rows == [
        "Phase Ingredient Percent",
        "A Rice wax 20.00",
        "A Vitamin E antioxidant 0.50",
        "A Plum kernel oil to 100 79.50",
        "Total 100.00",
    ]
    assert f'name="edit" value="{draft.edit}"' in shown
    assert "1 step" in shown


def test_an_approval_of_an_older_page_shows_the_lines_as_they_are_now(
    at_home: Client, by: By, draft: FormulaVersion
) -> None:
    """And fixes nothing before they were looked at."""
    data = sent_back(at_home, url(by, APPROVE)) | {f"reason-{index}": "fine" for index in range(9)}
    sent(at_home, by, "save", line_0_percent="30")

    shown = text_of(at_home.post(url(by, APPROVE), data))

    assert "changed in another window since you looked at it" in shown
    assert "30.00" in shown
    assert state(draft)[1] == "draft"


def test_a_variant_is_named_on_a_page_of_its_own(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """A name that is too long stays; a good one leads to the variant."""
    address = url(by, WAYS["variant"])
    assert 'value="Reed balm, variant"' in text_of(at_home.get(address))

    shown = text_of(at_home.post(address, {"name": "Reed " * 40}))
    assert "fit here" in shown
    assert "Reed Reed Reed" in shown

    assert at_home.post(address, {"name": "Reed balm, soft"}).headers["Location"] == url(
        by, "formulas/F-002/1/"
    )
