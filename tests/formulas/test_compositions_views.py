"""Writing compositions on screen: names typed, more rows, what comes back, what goes stale."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from formulas.actions.ingredients import add_substance
from formulas.models import Ingredient, Substance
from makers.actions import By
from makers.models import Document
from tests.cast import Cast
from tests.formulas.factories_ingredients import (
    make_composition,
    make_ingredient,
    make_sheet,
    make_source,
    part,
)
from tests.formulas.pages import page, text_of, url
from tests.formulas.sent import inputs_of


def rows(*parts: dict[str, Any], **head: Any) -> dict[str, Any]:
    """The form of a composition as a browser sends it."""
    data: dict[str, Any] = {
        "basis": "supplier",
        "valid_from": "2025-05-01",
        "do": "save",
        "after": "0",
        **head,
    }
    for index, one in enumerate(parts):
        filled = {"substance": "", "kind": "declared", "low": "", "typical": "", "high": "", **one}
        data |= {f"part-{index}-{key}": value for key, value in filled.items()}
    return data


def test_a_composition_is_written_by_typing_inci_names(at_home: Client, by: By) -> None:
    """Names are found however they are capitalised; empty rows are left out; the sheet is kept."""
    row = make_ingredient(by)
    data = rows(
        {"substance": "glycerin", "low": "55", "high": "65"},
        {"substance": "AQUA", "typical": "40"},
        {},
        {"substance": "Linalool", "kind": "within", "high": "0.5"},
        origin="Specification 7",
        allergens_stated="on",
        paper=make_sheet(),
    )

    response = at_home.post(url(by, "ingredients/I-001/compositions/add/"), data)

    assert response.status_code == 303, text_of(response)
    made = row.compositions.get()
    assert [(str(one.substance), one.kind) for one in made.constituents.order_by("id")] == [
        ("Glycerin", "declared"),
        ("Aqua", "declared"),
        ("Linalool", "within"),
    ]
    assert made.allergens_stated
    assert made.document == Document.objects.for_maker(by.maker).get()


def test_a_figure_left_empty_is_unknown(at_home: Client, by: By) -> None:
    """Not zero."""
    row = make_ingredient(by)
    data = rows({"substance": "Aqua", "rank": "1"}, {"substance": "Glycerin", "rank": "2"})

    at_home.post(url(by, "ingredients/I-001/compositions/add/"), data)

    found = row.compositions.get().constituents.order_by("rank")
    assert [(one.low, one.typical, one.high) for one in found] == [(None, None, None)] * 2


def test_more_rows_come_without_scripts_and_without_judging(at_home: Client, by: By) -> None:
    """What was typed stays as typed, also what would not hold yet, and nothing is written down."""
    row = make_ingredient(by)
    data = rows({"substance": "Glycerinn", "typical": "40,x"}, do="more", origin="Sheet 9")

    text = text_of(at_home.post(url(by, "ingredients/I-001/compositions/add/"), data))

    assert 'value="Glycerinn"' in text
    assert 'value="40,x"' in text
    assert 'value="Sheet 9"' in text
    assert 'name="part-5-substance"' in text
    assert 'name="part-6-substance"' not in text
    assert "not among the substances" not in text
    assert not row.compositions.exists()


def test_an_unknown_name_is_offered_as_ones_own(at_home: Client, by: By) -> None:
    """The page says the near name, offers to add it, keeps the rest, and then it holds."""
    row = make_ingredient(by)
    data = rows({"substance": "Glycerinn", "typical": "60"}, {"substance": "Aqua", "typical": "40"})
    address = url(by, "ingredients/I-001/compositions/add/")

    text = text_of(at_home.post(address, data))
    assert "Did you mean Glycerin?" in text
    assert "Add “Glycerinn” as a substance of your own" in text
    assert not Substance.objects.filter(maker=by.maker).exists()
    text = text_of(at_home.post(address, {**data, "do": "own:Glycerinn"}))

    assert "not among the substances" not in text
    assert 'value="40"' in text
    assert at_home.post(address, data).status_code == 303
    assert Substance.objects.get(maker=by.maker).inci_name == "Glycerinn"
    assert row.compositions.get().constituents.count() == 2


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([{"substance": "Glycerin", "typical": "120"}], "100"),
        ([{"substance": "Glycerin", "low": "60", "high": "40"}], "wrong order"),
        ([{"substance": "", "typical": "40"}], "Which substance has these figures?"),
        ([{"substance": "Glycerin", "typical": "80"}, {"substance": "Aqua", "typical": "30"}], "over 100"),
        ([{"substance": "Glycerin"}, {"substance": "Glycerin"}], "already in this composition"),
        ([{}], "names at least one substance"),
        ([{"substance": "Linalool", "kind": "within", "high": "1"}], "names at least one substance"),
    ],
)
def test_figures_that_need_a_hand_come_back(
    at_home: Client, by: By, parts: list[dict[str, str]], words: str
) -> None:
    """The sentence says what and the rows stay."""
    row = make_ingredient(by)

    text = text_of(at_home.post(url(by, "ingredients/I-001/compositions/add/"), rows(*parts)))

    plain = text.replace("<b>", "").replace("</b>", "")
    assert words in plain
    for value in parts[0].values():
        assert value in text
    assert not row.compositions.exists()


def test_the_head_names_what_needs_a_hand_in_the_rows_too(at_home: Client, by: By) -> None:
    """Where the head itself is well nothing else at the top says that the page came back."""
    make_ingredient(by)
    data = rows({"substance": "Aqua", "typical": "40"}, {"substance": "Glycerin", "low": "a lot"})

    said = text_of(at_home.post(url(by, "ingredients/I-001/compositions/add/"), data))

    assert "Nothing is written down yet: Low in substance 2 needs a hand." in said


def test_a_composition_form_that_went_stale_says_so_and_holds_when_sent_again(
    at_home: Client, by: By
) -> None:
    """Two tabs: the second hears of the first, and its rows become the next number."""
    row = make_ingredient(by)
    data = rows({"substance": "Glycerin", "typical": "100"})
    make_composition(by, row)

    text = text_of(at_home.post(url(by, "ingredients/I-001/compositions/add/"), data))

    assert "was written meanwhile" in text
    assert row.compositions.count() == 1
    again = at_home.post(url(by, "ingredients/I-001/compositions/add/"), inputs_of(text) | {"do": "save"})
    assert again.status_code == 303
    assert row.compositions.count() == 2


def test_the_next_composition_starts_from_the_sources_own(at_home: Client, by: By) -> None:
    """Each source's link starts from its newest composition."""
    row = make_ingredient(by)
    first, second = make_source(by, row, "Alder"), make_source(by, row, "Birch")
    make_composition(by, row, part("Glycerin", "100"), source=first)
    make_composition(by, row, part("Panthenol", "100"), source=second)

    text = page(at_home, by, f"ingredients/I-001/compositions/add/?source={first.uuid}")

    assert 'value="Glycerin"' in text.split("<datalist")[0]
    assert 'value="Panthenol"' not in text.split("<datalist")[0]
    assert f'<option value="{first.pk}" selected>' in text
    assert f"start from composition 1, {first}." in text
    assert f"?source={second.uuid}" in text
    assert f"?source={first.uuid}" not in text
    assert f"start from composition 2, {second}." in page(at_home, by, "ingredients/I-001/compositions/add/")


def test_a_file_of_the_wrong_kind_is_not_kept(at_home: Client, by: By) -> None:
    """The sentence says what may be kept; the rows stay and nothing is written."""
    row = make_ingredient(by)
    data = rows(
        {"substance": "Glycerin", "typical": "100"}, paper=make_sheet("sheet.docx", b"PK\x03\x04 words")
    )

    text = text_of(at_home.post(url(by, "ingredients/I-001/compositions/add/"), data))

    assert "PDF" in text
    assert 'value="Glycerin"' in text
    assert not row.compositions.exists()
    assert not Document.objects.for_maker(by.maker).exists()


def test_a_composition_from_memory_is_confirmed_on_its_page(
    at_home: Client, by: By, furnished: Ingredient
) -> None:
    """The link stands on the ingredient's page until then."""
    link = "ingredients/I-001/compositions/1/confirm/"
    assert link in page(at_home, by, "ingredients/I-001/")

    at_home.post(url(by, link), {"basis": "Allergen sheet of 2025-03"})

    assert link not in page(at_home, by, "ingredients/I-001/")
    assert furnished.compositions.get().basis == "confirmed"


def test_anothers_substance_is_not_known_here(at_home: Client, cast: Cast) -> None:
    """Neither offered in the list of names nor taken when typed."""
    add_substance(cast.stranger, inci_name="Strange Moss Extract")
    make_ingredient(cast.owner)
    address = "ingredients/I-001/compositions/add/"

    assert "Strange Moss" not in page(at_home, cast.owner, address)
    text = text_of(at_home.post(url(cast.owner, address), rows({"substance": "Strange Moss Extract"})))

    assert "not among the substances known here" in text
