"""What the desk says of the whole while a line can't be read: unknown, as if the line were there."""

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
from tests.formulas.pages import text_of, url
from tests.formulas.sent import sent_back

D = Decimal
DESK = "formulas/F-001/"
LIVE = {"HX-Request": "true"}


@pytest.fixture
def draft(by: By) -> FormulaVersion:
    """30 % oil in phase A, 20 % butter and water to 100 in phase B."""
    version = start_formula(by, name="Reed cream", kind="leave-on", form="balm", body_area="body")
    phases: list[dict[str, Any]] = [
        {"letter": "A", "lines": [{"ingredient": make_ingredient(by, "Plum kernel oil"), "percent": D(30)}]},
        {
            "letter": "B",
            "lines": [
                {"ingredient": make_ingredient(by, "Mallow butter"), "percent": D(20)},
                {"ingredient": make_ingredient(by, "Spring water"), "kind": "to_100"},
            ],
        },
    ]
    return save_version(by, version=version, phases=phases, edit=version.edit)


def shown(client: Client, by: By, do: str = "reckon", **changes: str) -> str:
    """The desk worked out for changes; "line-0-percent" is written line_0_percent."""
    data = sent_back(client, url(by, DESK))
    data |= {name.replace("_", "-"): [value] for name, value in changes.items()}
    return text_of(client.post(url(by, DESK), {**data, "do": [do]}, headers=LIVE))


def words(page: str, place: str) -> str:
    """What stands in the element of this id, which holds no other of its kind."""
    found = re.search(rf'<(\w+)[^>]* id="{place}"[^>]*>(.*?)</\1>', page, re.DOTALL)
    assert found, place
    return " ".join(re.sub(r"<[^>]+>", " ", found[2]).split())


def test_the_whole_is_known_where_every_line_can_be_read(
    at_home: Client, by: By, draft: FormulaVersion
) -> None:
    """The total, what is left to 100 and the sums of the phases are figures."""
    page = shown(at_home, by, line_0_percent="32.5")

    assert words(page, "sum-percent") == "100.00"
    assert words(page, "percent-line-2") == "to 100 47.50"
    assert (words(page, "sum-A-percent"), words(page, "sum-B-percent")) == ("32.50", "67.50")
    assert "Spring water takes 47.50" in words(page, "desk-key")
    assert words(page, "grams-line-2") == "475.0"


@pytest.mark.parametrize("do", ["reckon", "save"])
@pytest.mark.parametrize(
    "changes",
    [
        {"line_0_percent": "1,5"},
        {"line_0_percent": "abc"},
        {"line_0_percent": "-3"},
        {"line_0_percent": "101"},
        {"line_0_percent": ""},
        {"line_0_ingredient": "Moon oil"},
        {"line_3_ingredient": "Moon oil", "line_3_percent": "5"},
    ],
)
def test_a_line_that_can_not_be_read_is_not_left_out_of_the_sum(
    at_home: Client, by: By, draft: FormulaVersion, do: str, changes: dict[str, str]
) -> None:
    """Neither 100.00 nor what would be left without that line is shown, nor grams that rest on it."""
    page = shown(at_home, by, do, **changes)

    assert words(page, "sum-percent") == "Unknown"
    assert words(page, "percent-line-2") == "to 100 Unknown"
    assert words(page, "sum-B-percent") == "Unknown"
    key = words(page, "desk-key")
    assert key.startswith("–")
    assert "the total and what Spring water takes are unknown until every line" in key
    assert "100.00" not in key
    assert words(page, "grams-line-2") == ""


@pytest.mark.parametrize("do", ["reckon", "save"])
def test_the_review_says_which_lines_it_lacks(
    at_home: Client, by: By, draft: FormulaVersion, do: str
) -> None:
    """It neither calls the rest too little nor a question passed that the missing line may decide."""
    page = shown(at_home, by, do, line_2_ingredient="Moon water", line_2_kind="percent", line_2_percent="50")

    assert re.search(r"1(&nbsp;|\s)line can(’|&#x27;|')t be read yet", re.sub(r"</?b[^>]*>", "", page))
    assert "be read yet, “Moon water”: the review is made without it." in page
    assert "is missing from" not in page
    assert not re.search(r"\d questions? passed", page)

    page = shown(at_home, by, do, line_2_ingredient="Moon water", line_0_ingredient="Sun oil")

    assert "be read yet, “Sun oil” and “Moon water”: the review is made without them." in page


def test_the_review_lacks_nothing_where_every_line_can_be_read(
    at_home: Client, by: By, draft: FormulaVersion
) -> None:
    """Then what passed is told, and what is missing from 100."""
    page = shown(at_home, by, line_2_kind="percent", line_2_percent="40")

    assert "is missing from" in page
    assert re.search(r"\d questions? passed", page)
    assert "read yet" not in page


def test_a_phase_whose_lines_can_all_be_read_keeps_its_sum(
    at_home: Client, by: By, draft: FormulaVersion
) -> None:
    """What isn't known is said where it isn't known."""
    page = shown(at_home, by, line_1_percent="x")

    assert (words(page, "sum-A-percent"), words(page, "sum-B-percent")) == ("30.00", "Unknown")


def test_more_than_100_is_known(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """Nothing is left for the line to 100, which is another matter than not knowing."""
    page = shown(at_home, by, line_0_percent="90")

    assert words(page, "sum-percent") == "110.00"
    assert words(page, "percent-line-2") == "to 100"
    assert "Unknown" not in words(page, "desk-key")


def test_a_line_added_as_needed_leaves_the_whole_known(
    at_home: Client, by: By, draft: FormulaVersion
) -> None:
    """It stands outside the 100, so its range is no part of what is left."""
    make_ingredient(by, "Sorrel acid")
    page = shown(at_home, by, line_3_ingredient="Sorrel acid", line_3_kind="adjust", line_3_phase="B")

    assert words(page, "sum-percent") == "100.00"
    assert "Spring water takes 50.00" in words(page, "desk-key")


def test_an_entry_that_can_not_be_read_leaves_the_fields_as_they_are(
    at_home: Client, by: By, draft: FormulaVersion
) -> None:
    """The desk keeps its shape, so that figures and messages change and the cursor stays; another field's is new."""

    def shape(**changes: str) -> str:
        found = re.search(r'data-shape="([^"]*)"', shown(at_home, by, **changes))
        assert found
        return found[1]

    right = shape(line_0_percent="31")
    assert shape(line_0_percent="1,5") == shape(line_0_percent="abc") == right
    assert shape(mass="1,5") != shape(mass="abc") != right
