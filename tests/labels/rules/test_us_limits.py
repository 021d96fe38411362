"""What the United States bar or bound: 21 CFR 250.250, 700.11 to 700.35; places of colours, 21 CFR 73 and 74."""

from __future__ import annotations

from decimal import Decimal

import pytest
from molmass import Formula

from formulas.rules.composition import Composition, Constituent, substance_key
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.totals import Totals, substance_totals
from labels.rules.amounts import DeclaredAmount
from labels.rules.us_limits import check_us_colours, check_us_limits, us_restricted

D = Decimal


def totals(name: str, percent: str, low: str = "100", high: str = "100") -> Totals:
    """A product with so much of a raw material that holds low to high % of the substance, the rest glycerin."""
    constituent = Constituent(substance_key(name), name, low=D(low), high=D(high))
    rest = Constituent("glycerin", "Glycerin", low=100 - D(high), high=100 - D(low))
    known = {
        name: Composition(name, name, (constituent, rest) if D(low) < 100 else (constituent,)),
        "g": Composition("g", "g", (Constituent("glycerin", "Glycerin", typical=D(100)),)),
    }
    lines = (FormulaLine(name, name, name, D(percent)), FormulaLine("g", "g", "Glycerin", kind="to_100"))
    return substance_totals(resolve(lines).lines, known)


def part_says(name: str, percent: str, area: str = "body", low: str = "100") -> list[tuple[str, str, str]]:
    """Rule, severity and message of what is found in a premix."""
    found = check_us_limits(totals(name, percent, low), area, "premix")
    return [(one.rule, one.severity, one.message) for one in found]


def test_a_premix_is_told_how_much_of_it_a_product_may_hold() -> None:
    """21 CFR 250.250: 0.1 % hexachlorophene in the product; 30 % of a premix: 0.1 / 0.3 = 0.333 % of it."""
    [(rule, severity, message)] = part_says("Hexachlorophene", "30")

    assert (rule, severity) == ("us.part", "note")
    assert "0.1 % is the most in the US: a product may hold 0.333 % of this premix at most (as" in message
    assert part_says("Hexachlorophene", "0.1") == []
    assert [one[:2] for one in part_says("Hexachlorophene", "30", "lips")] == [("us.part_barred", "caution")]
    assert [one[:2] for one in part_says("Thimerosal", "1", "face")] == [("us.part_barred", "caution")]


def test_what_is_prohibited_stops_in_a_premix_too() -> None:
    """21 CFR 700.11."""
    assert [one[:2] for one in part_says("Bithionol", "1")] == [("us.prohibited", "stop")]


def said(
    name: str, percent: str, area: str = "body", low: str = "100", high: str = "100"
) -> list[tuple[str, str]]:
    """(rule, severity) of what is found."""
    return [(one.rule, one.severity) for one in check_us_limits(totals(name, percent, low, high), area)]


@pytest.mark.parametrize(
    "name", ["Bithionol", "Chloroform", "Tribromsalan", "Methylene Chloride", "Vinyl Chloride"]
)
def test_what_is_prohibited_stops_at_any_share(name: str) -> None:
    """21 CFR 700.11, 700.18, 700.15, 700.19, 700.14."""
    assert said(name, "0.0001") == [("us.prohibited", "stop")]


@pytest.mark.parametrize(
    ("percent", "area", "found"),
    [
        ("0.1", "body", ("us.within", "note")), ("0.1001", "body", ("us.over", "stop")),
        ("0.01", "lips", ("us.prohibited", "stop")), ("0.1", "unknown", ("us.within", "note")),
    ],
)  # fmt: skip
def test_hexachlorophene_up_to_a_tenth_of_a_percent_and_never_on_the_lips(
    percent: str, area: str, found: tuple[str, str]
) -> None:
    """21 CFR 250.250: 0.1 % itself is allowed."""
    assert said("Hexachlorophene", percent, area) == [found]


@pytest.mark.parametrize(
    ("percent", "area", "found"),
    [
        ("0.0131", "eyes", ("us.within", "note")), ("0.0132", "eyes", ("us.over", "stop")),
        ("0.001", "face", ("us.prohibited", "stop")), ("0.0132", "unknown", ("us.over", "stop")),
    ],
)  # fmt: skip
def test_mercury_counts_as_the_metal_and_around_the_eyes_alone(
    percent: str, area: str, found: tuple[str, str]
) -> None:
    """21 CFR 700.13: 65 ppm of mercury is 0.01312 % of thimerosal, 49.55 % mercury."""
    assert said("Thimerosal", percent, area) == [found]


@pytest.mark.parametrize(
    ("name", "formula"),
    [
        ("Thimerosal", "C9H9HgNaO2S"),
        ("Phenyl Mercuric Acetate", "C8H8HgO2"),
        ("Phenyl Mercuric Benzoate", "C13H10HgO2"),
    ],
)
def test_the_share_of_mercury_agrees_with_molmass(name: str, formula: str) -> None:
    """Molar masses by the molmass library, to four digits."""
    ratio = us_restricted()[substance_key(name)].ratio or D(0)

    assert abs(ratio - D(str(Formula("Hg").mass / Formula(formula).mass))) < D("0.0001")


def test_a_share_that_straddles_the_limit_is_a_caution() -> None:
    """1 % of a raw material with 5 to 15 % of it: 0.05 to 0.15."""
    assert said("Hexachlorophene", "1", low="5", high="15") == [("us.over", "caution")]


def test_what_comes_from_memory_cautions_and_stops_nothing() -> None:
    """Calomel's row and tallow's figure were not read in a source; zinc oxide is a word about claims."""
    assert said("Calomel", "0.1") == [("us.prohibited", "caution")]
    assert said("Tallow", "30") == [("us.asked", "caution")]
    assert said("Zinc Oxide", "5") == [("us.claim", "note")]


def test_a_usual_balm_meets_none_of_it() -> None:
    """Nothing is said of what no rule names."""
    assert said("Butyrospermum Parkii Butter", "60") == []


def colour(name: str) -> DeclaredAmount:
    """A colour that is used as one."""
    return DeclaredAmount(substance_key(name), name, low=D(1), typical=D(1), high=D(1), is_colourant=True)


@pytest.mark.parametrize(
    ("name", "area", "found"),
    [
        ("CI 77007", "lips", ["caution"]), ("CI 77007", "eyes", []), ("CI 77007", "body", []),
        ("CI 61565", "eyes", ["caution"]), ("CI 61565", "lips", ["caution"]), ("CI 61565", "hands", []),
        ("CI 61565", "unknown", ["caution"]), ("CI 77491", "lips", []), ("CI 77491", "unknown", []),
        ("Guaiazulene", "eyes", ["stop"]), ("Guaiazulene", "unknown", ["caution"]), ("Guaiazulene", "face", []),
    ],
)  # fmt: skip
def test_a_colour_is_held_to_its_places(name: str, area: str, found: list[str]) -> None:
    """21 CFR 73.2725: ultramarines not on the lips, the pairing with CI 77007 from memory; 74.2206: D&C Green No. 6
    is external, from memory; 73.2180: guaiazulene is external; 73.2250: iron oxides everywhere."""
    assert [one.severity for one in check_us_colours([colour(name)], area)] == found


def test_the_same_substance_in_another_use_is_no_colour() -> None:
    """Zinc oxide as a protectant is not held to a colour's places."""
    amount = DeclaredAmount("zinc-oxide", "CI 61565", low=D(1), high=D(1))

    assert check_us_colours([amount], "eyes") == ()
