"""Sources that matter to some buyers."""

from __future__ import annotations

import pytest

from formulas.rules.catalogue import catalogue
from formulas.rules.dietary import dietary_sources, sources_in, sources_of
from formulas.rules.review.dietary import check_dietary
from tests.formulas.rules.review_questions.pot import ask, rules_of, told


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("tree nut (almond)", ["almond"]),
        ("Almond", ["almond"]),
        ("nuts", ["tree-nut"]),
        ("nut; sesame", ["tree-nut", "sesame"]),
        ("shea nut", ["shea"]),
        ("soy if soya-derived (fully refined)", ["soy"]),
        ("wheat (gluten cereal)", ["wheat"]),
        ("oat (gluten cereal in the EU list)", ["oat"]),
        ("bee product (not a listed food allergen)", ["bee"]),
        ("animal; lanolin (contact allergen, not a listed food allergen)", ["lanolin"]),
        ("none listed; same genus as almond", []),
        ("none", []),
        ("coconut", ["coconut"]),
        ("strawberry", []),
    ],
)
def test_the_words_on_record_name_the_source(text: str, keys: list[str]) -> None:
    """What the catalogue writes and what a maker may write."""
    assert [row.key for row in sources_in(text)] == keys


def test_every_source_in_the_catalogue_is_known() -> None:
    """No word there that the table doesn't know."""
    written = {row.dietary_source for row in catalogue() if row.dietary_source}

    assert len(written) > 10
    assert {text for text in written if not sources_in(text)} == {"none listed; same genus as almond"}


def test_the_lists_of_the_us_and_the_eu_differ() -> None:
    """FDA, January 2025: twelve tree nuts, among them pine nut; coconut and shea came off. Annex II of EU 1169/2011:
    eight tree nuts without pine nut; celery, mustard, lupin, molluscs and oats besides."""
    by_key = {row.key: row for row in dietary_sources()}

    assert {key for key, row in by_key.items() if row.us_list and not row.eu_list} == {"pine-nut"}
    assert {key for key, row in by_key.items() if row.eu_list and not row.us_list} == {
        "oat", "barley", "mustard", "celery", "lupin", "mollusc",
    }  # fmt: skip
    eu_nuts = {key for key, row in by_key.items() if row.group == "tree nut" and row.eu_list} - {"tree-nut"}
    assert eu_nuts == {
        "almond", "hazelnut", "walnut", "cashew", "pecan", "brazil-nut", "pistachio", "macadamia",
    }  # fmt: skip
    for key in ("coconut", "shea", "bee", "lanolin", "silk", "carmine"):
        assert not by_key[key].is_listed


@pytest.mark.parametrize(
    ("substance", "key"),
    [
        ("prunus-amygdalus-dulcis-oil", "almond"),
        ("glycine-soja-oil", "soy"),
        ("cera-alba", "bee"),
        ("mel", "bee"),
        ("lac-powder", "milk"),
        ("lanolin", "lanolin"),
        ("lactic-acid", None),
        ("melissa-officinalis-leaf-oil", None),
        ("prunus-armeniaca-kernel-oil", None),
        ("butyrospermum-parkii-butter", None),
    ],
)
def test_substances_tell_their_source(substance: str, key: str | None) -> None:
    """By key or by how it begins, and no further."""
    assert [row.key for row in sources_of([substance])] == ([key] if key else [])


def test_almond_oil_says_whom_to_tell_and_what_else_would_do() -> None:
    """Figure, lists, caution words, replacement; and that cosmetics law asks for no such statement."""
    found = told(check_dietary(ask("sweet-almond-oil 8, sunflower-oil 92")), "dietary.almond")

    assert found.severity == "caution"
    assert found.message == (
        "sweet-almond-oil (8 %) comes from almond, on the food allergen lists of the EU and the US."
    )
    assert "“Contains almond (tree nut).”" in found.cure
    assert "sunflower" in found.cure
    assert "no general food allergen statement" in found.source
    assert found.lines == ("sweet-almond-oil",)


def test_ground_nuts_call_for_an_allergy_note() -> None:
    """Common practice, no source. Meal and oil of one nut are one finding."""
    found = check_dietary(ask("almond-meal 10, sweet-almond-oil 8, sugar 82"))

    assert rules_of(found) == ["dietary.ground_nuts"]
    assert "call for an allergy note" in found[0].message
    assert found[0].lines == ("almond-meal", "sweet-almond-oil")


def test_bees_and_wool_are_notes() -> None:
    """They matter to vegan claims and contact allergy, not to food lists."""
    found = check_dietary(ask("beeswax 20, lanolin-wool-wax 10, sunflower-oil 70"))

    assert {(one.rule, one.severity) for one in found} == {
        ("dietary.bee", "note"),
        ("dietary.lanolin", "note"),
    }


def test_what_depends_is_asked_of_the_supplier() -> None:
    """Tocopherol may be from soya; the EU list leaves natural tocopherols out."""
    found = told(check_dietary(ask("vitamin-e-mixed-tocopherols 1, sunflower-oil 99")), "dietary.soy_if")

    assert found.severity == "note"
    assert "may come from soya" in found.message
    assert "leaves out" in found.message
    assert found.cure.startswith("Ask the supplier")


def test_a_source_is_followed_through_a_premix() -> None:
    """Named with the premix, its share of the product, and the line of the premix."""
    asked = ask(
        "base 50, sunflower-oil 50",
        premixes={"base": "inner 50, beeswax 50", "inner": "sesame-oil 20, sunflower-oil 80"},
    )
    found = told(check_dietary(asked), "dietary.sesame")

    assert found.message.startswith("sesame-oil (5 %), through base, comes from sesame")
    assert found.lines == ("base",)


def test_a_source_that_the_table_doesnt_know_is_kept_in_the_makers_words() -> None:
    """Nothing that was written is lost."""
    found = check_dietary(
        ask("sunflower-oil 99, berry 1", changed={"berry": {"dietary_source": "Strawberry"}})
    )

    assert rules_of(found) == ["dietary.other"]
    assert "“Strawberry”" in found[0].message


def test_nothing_of_the_kind_says_nothing() -> None:
    """Sunflower, shea and apricot."""
    assert not check_dietary(ask("sunflower-oil 40, shea-butter 30, apricot-kernel-oil 30"))
