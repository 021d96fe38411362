"""HLB of an oil phase and of its emulsifiers, and where it doesn't apply."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.rules.composition import Composition, Constituent
from formulas.rules.emulsion import hlb_by_substance, mean_hlb, share_of_high
from formulas.rules.findings import Finding
from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine
from formulas.rules.review import FormulaForReview, IngredientFacts, prepare
from formulas.rules.review.emulsion import check_emulsion

D = Decimal
HIGH, LOW = "polysorbate-80", "sorbitan-oleate"
FACTS = {
    "water": IngredientFacts("Water", soluble_in="water", substance="aqua"),
    "oil": IngredientFacts(
        "Olive oil", frozenset({"emollient"}), "liquid", "oil", substance="olea-europaea-fruit-oil"
    ),
    "ester": IngredientFacts("An ester", frozenset({"emollient"}), "liquid", "oil", substance="an-ester"),
    "own": IngredientFacts("An ester", soluble_in="oil", substance="an-ester", hlb_required=D(9)),
    HIGH: IngredientFacts("High", frozenset({"emulsifier"}), "liquid", "water", substance=HIGH),
    LOW: IngredientFacts("Low", frozenset({"emulsifier"}), "liquid", "oil", substance=LOW),
    "ewax": IngredientFacts("Emulsifying wax", frozenset({"emulsifier"}), "hard solid", "oil"),
}
BLEND = Composition(
    "ewax",
    "Emulsifying wax",
    (Constituent("cetearyl-alcohol", "Cetearyl Alcohol"), Constituent("polysorbate-60", "Polysorbate 60")),
)


def found_in(shares: dict[str, str]) -> dict[str, Finding]:
    """What the question says of a formula of these percents, by the last word of the rule."""
    lines = tuple(FormulaLine(key, key, FACTS[key].name, D(each)) for key, each in shares.items())
    formula = FormulaForReview(lines, ProductUse("leave-on", "body"), {"ewax": BLEND}, facts=FACTS)
    return {each.rule.removeprefix("emulsion."): each for each in check_emulsion(prepare(formula))}


def test_the_published_worked_table() -> None:
    """351.25 / 34 = 10.33: OCL 29 (2022), ocl210096, Table 4, formulation F1."""
    parts = [("1.5", "12"), ("7.5", "11.5"), ("7.5", "3.8"), ("12.5", "15"), ("5", "6.2")]

    required = mean_hlb([(D(mass), D(hlb)) for mass, hlb in parts])

    assert round((required or D(0)) * 34, 2) == D("351.25")
    assert round(required or D(0), 2) == D("10.33")


def test_the_share_of_a_pair() -> None:
    """(10.33 - 4.3) / 10.7 = 0.564 of polysorbate 80 with sorbitan oleate; outside the pair there is none."""
    have = hlb_by_substance("emulsifier")
    high, low = have[HIGH].hlb, have[LOW].hlb

    assert (high, low) == (D(15), D("4.3"))
    assert round(share_of_high(D("10.33"), high, low) or D(0), 3) == D("0.564")
    assert share_of_high(D("4.2"), high, low) is None
    assert share_of_high(D("15.1"), high, low) is None
    assert share_of_high(D(5), D(5), D(5)) is None


def test_nothing_has_no_mean() -> None:
    """Not 0."""
    assert mean_hlb([]) is None


def test_emulsifiers_that_meet_the_oil_phase_are_a_note() -> None:
    """Olive oil requires 7 (from memory); a quarter of the pair as polysorbate gives 4.3 + 0.25 x 10.7 = 6.98."""
    found = found_in({"water": "76", "oil": "20", HIGH: "1", LOW: "3"})

    assert found["hlb"].severity == "note"
    assert "requires HLB 7; the emulsifiers have 6.98" in found["hlb"].message
    assert found["shares"].message == "Water phase 76 %, oil phase 20 %, emulsifiers 4 %."


def test_emulsifiers_that_miss_are_a_caution_with_the_split_that_meets() -> None:
    """(7 - 4.3) / 10.7 of 4 % is 1.01 %."""
    found = found_in({"water": "76", "oil": "20", HIGH: "3", LOW: "1"})

    assert found["hlb"].severity == "caution"
    assert found["hlb"].cure == "1.01 % High with 2.99 % Low meets it."


def test_one_emulsifier_far_off_asks_for_another() -> None:
    """15 against 7."""
    assert "emulsifier of lower HLB" in found_in({"water": "76", "oil": "20", HIGH: "4"})["hlb"].cure


def test_a_missing_figure_is_said_and_the_makers_own_counts() -> None:
    """An ester without a figure; then one the maker entered as 9."""
    missing = found_in({"water": "76", "ester": "20", HIGH: "4"})
    assert set(missing) == {"shares", "hlb_missing"}
    assert "no figure for An ester" in missing["hlb_missing"].message
    assert "requires HLB 9;" in found_in({"water": "76", "own": "20", HIGH: "4"})["hlb"].message


@pytest.mark.parametrize(("percent", "too_much"), [("4", False), ("8", False), ("9", True)])
def test_a_ready_blend_follows_its_rate(percent: str, too_much: bool) -> None:
    """About 4 % of an emulsifying wax makes a lotion, up to 8 % a balm or butter: common practice, no source."""
    found = found_in({"water": str(80 - D(percent)), "oil": "20", "ewax": percent})

    assert set(found) == {"shares", "rate"}
    assert ("up to 8 %" in found["rate"].message) is too_much
    assert "supplier's rate" in found["rate"].cure


def test_water_free_or_without_emulsifier_is_not_asked() -> None:
    """Nothing to emulsify."""
    assert found_in({"oil": "90", HIGH: "10"}) == {}
    assert found_in({"oil": "40", "water": "60"}) == {}
