"""Is it preserved as its base needs?"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from formulas.rules.catalogue import catalogue_compositions
from formulas.rules.composition import Composition, Constituent
from formulas.rules.percent import FormulaLine
from formulas.rules.review.preservative import check_preservative
from formulas.rules.uselevels import UseLevel
from tests.formulas.rules.review_questions.pot import ask, lines_of, rules_of, told

D = Decimal
LOTION = "purified-water 79.5, sunflower-oil 15, emulsifying-wax-non-ionic 5"
BAR = "cocoa-butter 60, shea-butter 39.5"
ACID: dict[str, Any] = {"ph_low": D("4.5"), "ph_high": D("5")}


def test_a_water_phase_without_preservative_is_told() -> None:
    """Its share of water stands in the sentence."""
    found = told(check_preservative(ask("purified-water 80, glycerin 20")), "preservative.none")

    assert found.severity == "caution"
    assert found.message == "80 % water and no preservative on record."


@pytest.mark.parametrize(("water", "told_of"), [("0.99", False), ("1", True)])
def test_below_one_percent_counts_as_water_free(water: str, told_of: bool) -> None:
    """Our bound, at which there is a water phase."""
    oil = D(100) - D(water)
    found = check_preservative(ask(f"sunflower-oil {oil}, purified-water {water}"))

    assert bool(found) is told_of


@pytest.mark.parametrize("watery", ["aloe-juice", "rose-water", "witch-hazel-distillate"])
def test_plant_waters_and_juices_are_water(watery: str) -> None:
    """They declare no Aqua and are water all the same."""
    found = check_preservative(ask(f"glycerin 70, {watery} 30"))

    assert rules_of(found) == ["preservative.none"]


def test_a_share_of_water_that_isnt_known_is_told_with_both_ends() -> None:
    """An extract whose split isn't given may be all water; what is written in stone isn't claimed."""
    found = told(
        check_preservative(ask("sunflower-oil 95, chamomile-extract 5", form="oil")), "preservative.none"
    )

    assert found.message.startswith("0 to 5 % water, as far as known")
    assert not check_preservative(ask("sunflower-oil 99.5, chamomile-extract 0.5", form="oil"))


@pytest.mark.parametrize(
    ("recipe", "more"),
    [
        ("denatured-alcohol 60, purified-water 40", {}),
        ("purified-water 90, citric-acid 10", {"ph_low": D(2), "ph_high": D(3)}),
        ("purified-water 90, caustic-potash 10", {"ph_low": D(10), "ph_high": D(11)}),
    ],
)
def test_where_little_grows_no_preservative_is_a_note(recipe: str, more: dict[str, Any]) -> None:
    """20 % ethanol, pH up to 3 or from 10 on: ISO 29621 (from memory)."""
    compositions = dict(catalogue_compositions())
    if "denatured" in recipe:
        compositions["denatured-alcohol"] = Composition(
            "denatured-alcohol",
            "denatured alcohol",
            (Constituent("alcohol-denat", "Alcohol Denat.", typical=D(100)),),
        )
    found = check_preservative(ask(recipe, compositions=compositions, **more))

    assert rules_of(found) == ["preservative.not_needed"]
    assert found[0].severity == "note"


@pytest.mark.parametrize(
    ("recipe", "rules"),
    [
        (f"{BAR}, vitamin-e-mixed-tocopherols 0.5", ["preservative.wet"]),
        (f"{BAR}, sodium-benzoate 0.5", ["preservative.solubility"]),
        (f"{BAR}, dehydroacetic-acid 0.5", ["preservative.solubility"]),
        (f"{BAR}, house-keeper 0.5", []),
    ],
)
def test_a_bar_for_the_shower_gets_a_preservative_that_dissolves_in_oil(
    recipe: str, rules: list[str]
) -> None:
    """Common practice, no source. A salt such as a benzoate dissolves in water alone."""
    keeper = {"roles": frozenset({"preservative"}), "soluble_in": "oil", "form": "liquid"}
    asked = ask(recipe, form="bar", used_in_water=True, changed={"house-keeper": keeper})

    assert rules_of(check_preservative(asked)) == rules


def test_a_salt_in_a_water_free_bar_is_told_as_one() -> None:
    """With what it is a salt of, why it doesn't work, the bound, and its line."""
    found = told(
        check_preservative(ask(f"{BAR}, potassium-sorbate 0.5", form="bar", used_in_water=True)),
        "preservative.solubility",
    )

    assert found.severity == "caution"
    assert "a salt of sorbic acid and dissolves in water alone" in found.message
    assert "0 % water, below 1 %, counts as water-free" in found.message
    assert found.lines == ("potassium-sorbate",)


def test_with_an_emulsifier_a_water_soluble_one_is_told_by_its_name() -> None:
    """Only the emulsifier holds it spread."""
    recipe = (
        "cocoa-butter 60, shea-butter 34, emulsifying-wax-non-ionic 5, "
        "benzyl-alcohol-dehydroacetic-acid-blend 1"
    )
    found = check_preservative(ask(recipe, form="bar", used_in_water=True))

    assert (
        "only emulsifying-wax-non-ionic can hold it spread" in told(found, "preservative.solubility").message
    )


def test_one_of_limited_solubility_is_a_note() -> None:
    """The note of the record stands in the sentence."""
    found = check_preservative(
        ask(f"{BAR}, benzyl-alcohol-organic-acid-blend 0.5", form="bar", used_in_water=True)
    )

    assert told(found, "preservative.solubility").severity == "note"


def test_a_dry_balm_needs_none() -> None:
    """Water-free and dry: nothing is missed; one that is in it is a note."""
    assert not check_preservative(ask("sunflower-oil 80, beeswax 20", form="balm"))
    found = check_preservative(ask("sunflower-oil 79, beeswax 20, benzyl-alcohol 1", form="balm"))
    assert rules_of(found) == ["preservative.dry"]
    assert found[0].severity == "note"


def test_bath_salts_are_used_up_at_once() -> None:
    """They meet water, and once."""
    assert not check_preservative(ask("epsom-salt 100", form="bath", used_in_water=True))


def test_what_it_dissolves_in_matters_only_where_it_must_work() -> None:
    """Unknown in a lotion and in a shower bar, not in a dry balm."""
    keeper = {"house-keeper": {"roles": frozenset({"preservative"}), "form": "liquid"}}
    lotion = check_preservative(ask(f"{LOTION}, house-keeper 0.5", changed=keeper))
    shower = check_preservative(ask(f"{BAR}, house-keeper 0.5", changed=keeper, used_in_water=True))
    dry = check_preservative(ask(f"{BAR}, house-keeper 0.5", changed=keeper))

    assert told(lotion, "preservative.solubility").severity == "unknown"
    assert told(shower, "preservative.solubility").severity == "unknown"
    assert "preservative.solubility" not in rules_of(dry)


def test_an_oil_soluble_one_leaves_the_water_alone() -> None:
    """A caution where nothing carries it over, a note in an emulsion."""
    keeper = {
        "house-keeper": {
            "roles": frozenset({"preservative"}),
            "soluble_in": "oil",
            "form": "liquid",
            "ph_low": None,
        }
    }
    toner = check_preservative(ask("purified-water 99.5, house-keeper 0.5", changed=keeper, **ACID))
    lotion = check_preservative(ask(f"{LOTION}, house-keeper 0.5", changed=keeper, **ACID))

    assert told(toner, "preservative.solubility").severity == "caution"
    assert told(lotion, "preservative.solubility").severity == "note"


def test_one_without_a_level_on_record_is_unknown() -> None:
    """A level for the other kind of product is none, nor is one of a market where it isn't sold."""
    levels = {"sodium-benzoate": [UseLevel(None, D(1), "rinse-off")]}
    found = check_preservative(ask(f"{LOTION}, sodium-benzoate 0.5", use_levels=levels, **ACID))

    assert told(found, "preservative.no_level").severity == "unknown"
    elsewhere = {"sodium-benzoate": [UseLevel(None, D(1), "any", market="AU", sold_there=False)]}
    found = check_preservative(ask(f"{LOTION}, sodium-benzoate 0.5", use_levels=elsewhere, **ACID))
    assert told(found, "preservative.no_level").severity == "unknown"
    levels = {"sodium-benzoate": [UseLevel(None, D(1), "any")]}
    found = check_preservative(ask(f"{LOTION}, sodium-benzoate 0.5", use_levels=levels, **ACID))
    assert "preservative.no_level" not in rules_of(found)


def test_the_worked_benzoate_in_a_lotion() -> None:
    """0.50 % sodium benzoate: 0.424 % acid, at pH 5.0 13.7 % of it, 0.058 %, undissociated (Steinberg's pKa)."""
    found = told(check_preservative(ask(f"{LOTION}, sodium-benzoate 0.5", **ACID)), "preservative.acid")

    assert found.severity == "note"
    assert found.message == (
        "Benzoic Acid: 0.4237 % of the product, counted as acid; at pH 5 13.6 % of that is undissociated,"
        " 0.0579 % of the product."
    )
    assert "challenge test" in found.source


def test_hardly_any_acid_left_is_a_caution() -> None:
    """At pH 5.5 4.8 % of benzoic acid is undissociated: the common upper end is 5.0 to 5.5."""
    found = check_preservative(ask(f"{LOTION}, sodium-benzoate 0.5", ph_low=D(5), ph_high=D("5.5")))

    acid = told(found, "preservative.acid")
    assert acid.severity == "caution"
    assert "4.7 % of that is undissociated" in acid.message
    assert (
        told(found, "preservative.ph").message
        == "Made to pH 5 to 5.5; sodium-benzoate works from pH 2.5 to 5."
    )


def test_salts_of_one_acid_and_the_acid_add_up() -> None:
    """0.2 % potassium sorbate and 0.1 % sorbic acid: 0.2493 % acid, in one finding with both lines."""
    compositions = dict(catalogue_compositions())
    compositions["sorbic"] = Composition(
        "sorbic", "sorbic", (Constituent("sorbic-acid", "Sorbic Acid", typical=D(100)),)
    )
    found = check_preservative(
        ask(
            "purified-water 99.7, potassium-sorbate 0.2, sorbic 0.1",
            changed={"sorbic": {"roles": frozenset({"preservative"}), "soluble_in": "water"}},
            compositions=compositions,
            **ACID,
        )
    )

    acid = told(found, "preservative.acid")
    assert acid.message.startswith("Sorbic Acid: 0.2493 %")
    assert acid.lines == ("potassium-sorbate", "sorbic")


def test_an_acid_that_isnt_there_to_preserve_is_left_out() -> None:
    """Salicylic acid as an active has its own limits and no such finding."""
    asked = ask(f"{LOTION}, salicylic-acid 0.5", purposes={"salicylic-acid": "active"}, **ACID)
    kept = ask(f"{LOTION}, salicylic-acid 0.5", purposes={"salicylic-acid": "preservative"}, **ACID)

    assert rules_of(check_preservative(asked)) == ["preservative.none"]
    assert "preservative.acid" in rules_of(check_preservative(kept))


@pytest.mark.parametrize(
    ("low", "high", "basis", "severity"),
    [
        ("4.5", "5", "supplier", None),
        ("5", "5.2", "supplier", "caution"),
        ("5.5", "6", "memory", "caution"),
        ("5.5", "6", "supplier", "stop"),
        ("5.5", "6", "confirmed", "stop"),
    ],
)
def test_a_remembered_window_never_stops(low: str, high: str, basis: str, severity: str | None) -> None:
    """Wholly outside the supplier's window stops; in part, or by memory, is a caution; at its end passes."""
    changed = {"sodium-benzoate": {"bases": {"ph_high": basis, "ph_low": basis}}}
    found = check_preservative(
        ask(f"{LOTION}, sodium-benzoate 0.5", changed=changed, ph_low=D(low), ph_high=D(high))
    )

    assert [one.severity for one in found if one.rule == "preservative.ph"] == (
        [severity] if severity else []
    )


def test_the_ph_is_asked_for_where_the_window_is_narrow() -> None:
    """Benzoate waits for it, phenoxyethanol (pH 3 to 10) doesn't."""
    benzoate = check_preservative(ask(f"{LOTION}, sodium-benzoate 0.5"))
    phenoxy = check_preservative(ask(f"{LOTION}, phenoxyethanol 0.5"))

    asked = told(benzoate, "preservative.ph_unknown")
    assert asked.severity == "unknown"
    assert asked.message == "The pH that it is made to isn't said; sodium-benzoate works from pH 2.5 to 5."
    assert rules_of(phenoxy) == []


def test_the_ph_of_an_adjust_line_counts_where_the_version_says_none() -> None:
    """Lactic acid as needed to pH 4.5 to 5."""
    adjust = FormulaLine(
        "lactic-acid-80-90",
        "lactic-acid-80-90",
        "lactic acid",
        None,
        "adjust",
        D(0),
        D("0.5"),
        "pH",
        D("4.5"),
        D(5),
    )
    found = check_preservative(ask([*lines_of(f"{LOTION}, sodium-benzoate 0.5"), adjust]))

    assert "at pH 5 13.6 %" in told(found, "preservative.acid").message
    assert "preservative.ph_unknown" not in rules_of(found)


@pytest.mark.parametrize("form", ["bar", "balm", "oil", "scrub", "bath", "other"])
@pytest.mark.parametrize("used_in_water", [True, False])
def test_a_water_free_product_has_no_ph(form: str, used_in_water: bool) -> None:
    """Neither window nor acid nor a question for the pH, whatever is written."""
    for ph in ({}, ACID, {"ph_low": D(9), "ph_high": D(9)}):
        found = check_preservative(
            ask(f"{BAR}, sodium-benzoate 0.5", form=form, used_in_water=used_in_water, **ph)
        )
        assert not {"preservative.ph", "preservative.acid", "preservative.ph_unknown"} & set(rules_of(found))


def test_a_preservative_in_a_premix_counts_and_marks_the_premix() -> None:
    """The line marked is the one that stands in the formula."""
    found = check_preservative(
        ask(
            "purified-water 79, sunflower-oil 15, emulsifying-wax-non-ionic 5, keeper 1",
            premixes={"keeper": "sodium-benzoate 50, glycerin 50"},
            **ACID,
        )
    )

    assert told(found, "preservative.acid").lines == ("keeper",)
    assert "preservative.none" not in rules_of(found)
