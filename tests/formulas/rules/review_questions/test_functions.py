"""Has it what its form needs?"""

from __future__ import annotations

import pytest

from formulas.rules.review.functions import check_functions
from tests.formulas.rules.review_questions.pot import ask, rules_of, told

CREAM = "purified-water 75, sunflower-oil-high-oleic 20, cetearyl-alcohol 1"


@pytest.mark.parametrize(
    ("recipe", "rules"),
    [
        (f"{CREAM}, emulsifying-wax-non-ionic 4", []),
        ("purified-water 71, sunflower-oil-high-oleic 21, emulsifying-wax-non-ionic 8", []),
        (f"{CREAM}, xanthan-gum 4", ["functions.emulsifier"]),
        (f"{CREAM}, stearic-acid 4", ["functions.emulsifier"]),
        (f"{CREAM}, stearic-acid 3, triethanolamine 1", []),
        (f"{CREAM}, cationic-conditioning-emulsifier 4", []),
        ("purified-water 96, glycerin 4", ["functions.oil_phase"]),
        (
            "shea-butter 60, jojoba-oil 36, glyceryl-stearate 4",
            ["functions.water_phase", "functions.antioxidant"],
        ),
    ],
)
def test_a_cream_needs_water_oil_and_an_emulsifier(recipe: str, rules: list[str]) -> None:
    """4 % of an emulsifying wax makes a lotion, 8 % a butter (common practice, no source); a fatty acid alone
    emulsifies nothing before an alkali makes a soap of it."""
    assert rules_of(check_functions(ask(recipe, form="cream"))) == rules


def test_water_and_oil_without_emulsifier_are_told_with_their_figures() -> None:
    """Both shares, the names, what cures it, and the lines of the oils."""
    found = told(check_functions(ask(f"{CREAM}, xanthan-gum 4", form="cream")), "functions.emulsifier")

    assert found.severity == "caution"
    assert found.message.startswith(
        "75 % water and 21 % oil-soluble (sunflower-oil-high-oleic and cetearyl-alcohol), and nothing"
    )
    assert found.lines == ("sunflower-oil-high-oleic", "cetearyl-alcohol")
    assert "4 %" in found.cure
    assert found.basis == "memory"


def test_an_ingredient_whose_role_isnt_on_record_may_be_it() -> None:
    """Unknown isn't none."""
    found = told(check_functions(ask(f"{CREAM}, house-blend 4", form="cream")), "functions.emulsifier")

    assert "unless house-blend does it" in found.message


def test_much_alcohol_dissolves_a_little_perfume() -> None:
    """Ethanol and 1 % oil need no emulsifier; in water they do."""
    spirit = "denatured-alcohol 60, purified-water 39, lavender-oil 1"
    water = "glycerin 60, purified-water 39, lavender-oil 1"

    assert rules_of(check_functions(ask(spirit, form="liquid"))) == []
    assert rules_of(check_functions(ask(water, form="liquid"))) == ["functions.emulsifier"]


@pytest.mark.parametrize(
    ("recipe", "rules"),
    [
        (
            "shea-butter 50, mango-butter 25, coconut-oil 24.5, vitamin-e-mixed-tocopherols 0.5",
            ["functions.sets"],
        ),
        ("shea-butter 50, cocoa-butter 49.5, vitamin-e-mixed-tocopherols 0.5", []),
        ("sci 60, shea-butter 40", ["functions.antioxidant"]),
        (
            "shea-butter 45, mango-butter 30, coconut-oil 19.5, beeswax 5, vitamin-e-mixed-tocopherols 0.5",
            ["functions.soft"],
        ),
        ("shea-butter 60, cocoa-butter 10, beeswax 5, jojoba-oil 24.5, vitamin-e-mixed-tocopherols 0.5", []),
    ],
)
def test_a_bar_needs_something_hard(recipe: str, rules: list[str]) -> None:
    """Of shea, mango and coconut it stays soft; cocoa butter is the hard one (common practice, no source)."""
    found = check_functions(ask(recipe, form="bar"))

    assert rules_of(found) == rules
    if "functions.sets" in rules:
        assert "drags" in told(found, "functions.sets").cure


def test_a_balm_may_set_by_a_soft_butter() -> None:
    """Shea is enough for a balm; an oil alone isn't."""
    kept = "vitamin-e-mixed-tocopherols 1"

    assert rules_of(check_functions(ask(f"shea-butter 60, sunflower-oil 39, {kept}", form="balm"))) == []
    assert rules_of(check_functions(ask(f"sunflower-oil 99, {kept}", form="balm"))) == ["functions.sets"]


def test_a_form_that_isnt_known_may_set() -> None:
    """The finding says whose form to look up, and marks its line."""
    found = told(
        check_functions(ask("sunflower-oil 60, house-wax 40", form="bar")),
        "functions.sets",
    )

    assert "unless house-wax does it" in found.message
    assert found.lines == ("house-wax",)


@pytest.mark.parametrize(
    ("recipe", "rules"),
    [
        ("sugar 60, jojoba-oil 40", ["functions.separates"]),
        ("sugar 60, jojoba-oil 35, beeswax 5", []),
        ("jojoba-oil 80, beeswax 20", ["functions.scrubs"]),
    ],
)
def test_a_scrub_needs_grains_and_something_that_holds_the_oil(recipe: str, rules: list[str]) -> None:
    """3 to 8 % wax or emulsifier (common practice, no source)."""
    assert rules_of(check_functions(ask(recipe, form="scrub"))) == rules


def test_oil_in_bath_salts_is_told() -> None:
    """Essential oil on salt floats on the bath; a solubiliser spreads it."""
    salts = "epsom-salt 95, lavender-oil 1"

    assert rules_of(check_functions(ask(f"{salts}, baking-soda 4", form="bath"))) == ["functions.disperses"]
    assert rules_of(check_functions(ask(f"{salts}, polysorbate-20 4", form="bath"))) == []


def test_an_antioxidant_counts_from_a_premix_and_from_a_purpose() -> None:
    """It isn't missed where a premix brings it, nor where the line says so."""
    plain = check_functions(ask("sunflower-oil 90, beeswax 10", form="balm"))
    premixed = check_functions(
        ask(
            "sunflower-oil 89, beeswax 10, premix 1",
            form="balm",
            premixes={"premix": "vitamin-e-mixed-tocopherols 60, sunflower-oil 40"},
        )
    )
    purposed = check_functions(
        ask("sunflower-oil 89, beeswax 10, ferment 1", form="balm", purposes={"ferment": "antioxidant"})
    )

    assert rules_of(plain) == ["functions.antioxidant"]
    assert told(plain, "functions.antioxidant").severity == "note"
    assert rules_of(premixed) == []
    assert "functions.antioxidant" not in rules_of(purposed)


def test_oils_that_keep_need_no_antioxidant() -> None:
    """Jojoba, squalane and mineral oil hardly turn rancid (common practice, no source)."""
    recipe = "jojoba-oil 40, squalane 20, mineral-oil 20, beeswax 20"

    assert rules_of(check_functions(ask(recipe, form="balm"))) == []


@pytest.mark.parametrize("form", ["premix", "infusion"])
def test_a_premix_needs_nothing_of_it(form: str) -> None:
    """It is no product yet."""
    assert not check_functions(ask(f"{CREAM}, xanthan-gum 4", form=form))
