"""Grams and percents of recipes, against a general-purpose library of units and figures worked by hand."""

from __future__ import annotations

from decimal import Decimal

import pint
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from formulas.rules.interval import Interval
from formulas.rules.recipe.grams import Density, Material, Weighed, shares, weigh_line, whole_of
from formulas.rules.recipe.lines import read_line, read_recipe
from formulas.rules.recipe.measures import WORDS, measure

D = Decimal
OIL = Material(Density(D("0.9"), "liquid"), is_liquid=True)


@pytest.mark.parametrize(
    ("key", "region", "name", "unit"),
    [
        ("oz", "us", "ounce", "gram"), ("lb", "us", "pound", "gram"), ("grain", "us", "grain", "gram"),
        ("tsp", "us", "teaspoon", "milliliter"), ("tbsp", "us", "tablespoon", "milliliter"),
        ("cup", "us", "cup", "milliliter"), ("fl oz", "us", "fluid_ounce", "milliliter"),
        ("pint", "us", "pint", "milliliter"), ("quart", "us", "quart", "milliliter"),
        ("fl oz", "imperial", "imperial_fluid_ounce", "milliliter"), ("cup", "imperial", "imperial_cup", "milliliter"),
        ("pint", "imperial", "imperial_pint", "milliliter"), ("quart", "imperial", "imperial_quart", "milliliter"),
    ],
)  # fmt: skip
def test_measures_agree_with_pint(key: str, region: str, name: str, unit: str) -> None:
    """Pint 0.25 (which cites NIST) to the last digit of ours."""
    registry: pint.UnitRegistry[Decimal] = pint.UnitRegistry(non_int_type=Decimal)
    size = measure(key, region)

    assert size is not None
    assert size.low == size.high
    assert abs(size.low - (registry.Quantity(D(1), name).to(unit).magnitude)) < D("0.0000001")


def test_every_word_leads_to_a_measure() -> None:
    """The closed list has no blind end."""
    assert {
        key
        for key in WORDS
        if key not in {"%", "part"} and not any(measure(key, at) for at in ("us", "metric"))
    } == set()


@pytest.mark.parametrize(
    ("text", "region", "grams"),
    [
        ("120 g oil", "metric", "120"), ("1 tbsp oil", "metric", "13.5"), ("1 tbsp oil", "au", "18"),
        ("1 tbsp oil", "us", "13.30808830"), ("2 tbsp plus 1 tsp oil", "metric", "31.5"),
        ("1 lb oil", "us", "453.59237"),
    ],
)  # fmt: skip
def test_a_line_in_grams(text: str, region: str, grams: str) -> None:
    """By hand: 15 ml x 0.9, 20 ml x 0.9, 14.78676478125 x 0.9, 35 ml x 0.9."""
    found = weigh_line(read_line(text), region, OIL)

    assert (found.asks, found.low, found.high) == ("", D(grams), D(grams))


def test_drops_are_never_one_figure() -> None:
    """10 drops: 0.25 to 0.5 ml, x 0.9."""
    found = weigh_line(read_line("10 drops lavender"), "metric", OIL)

    assert (found.low, found.high) == (D("0.225"), D("0.45"))
    assert not found.is_exact
    assert "0.025 to 0.05 ml" in " ".join(found.says)


def test_a_spooned_powder_carries_its_spread() -> None:
    """100 ml at 0.8 g/ml, 21 % either way."""
    powder = Material(Density(D("0.8"), "bulk"), is_liquid=False)
    found = weigh_line(read_line("100 ml clay"), "metric", powder)

    assert (found.low, found.high) == (D("63.2"), D("96.8"))


@pytest.mark.parametrize(
    ("text", "material", "words"),
    [
        ("3 oz oil", OIL, "fluid ounces"),
        ("3 oz dust", Material(), "fluid ounces"),
        ("1 tsp wax", Material(Density(D("0.96"), "solid"), is_liquid=False), "solid block"),
        ("1 tsp dust", Material(), "isn't known"),
        ("1 fl oz oil", OIL, "knows no fl oz"),
        ("0 g oil", OIL, "nothing"),
        ("101 % oil", OIL, "more than the whole"),
    ],
)
def test_what_cannot_be_weighed_is_asked(text: str, material: Material, words: str) -> None:
    """No gram is invented."""
    found = weigh_line(read_line(text), "metric", material)

    assert words in found.asks
    assert found.low is None


def test_an_answer_settles_a_choice_and_no_other_word_does() -> None:
    """Ounces of a liquid by weight or by volume; "gr" as grams; a number alone as millilitres."""
    by_weight = weigh_line(read_line("2 oz oil"), "us", OIL, meant="oz")
    by_volume = weigh_line(read_line("2 oz oil"), "us", OIL, meant="fl oz")

    assert by_weight.low == D("56.69904625")
    assert by_volume.low == D("53.23235321")
    assert weigh_line(read_line("12 gr mica"), "us", OIL, meant="g").low == D(12)
    assert weigh_line(read_line("10 oil"), "us", OIL, meant="ml").low == D(9)
    assert weigh_line(read_line("12 gr mica"), "us", OIL, meant="lb").asks


def test_grams_share_out_what_they_add_up_to() -> None:
    """30 and 10 of 40."""
    assert shares([Weighed(D(30), D(30), "g"), Weighed(D(10), D(10), "g")]) == (
        Interval.point(D(75)),
        Interval.point(D(25)),
    )


def test_an_interval_is_carried_through_to_both_sides() -> None:
    """99 g with 0.5 to 1 g: at most 1/100, at least 0.5/99.5 of the whole."""
    found = shares([Weighed(D(99), D(99), "g"), Weighed(D("0.5"), D(1), "g")])
    assert not isinstance(found, str)
    oil, drops = found

    assert oil is not None
    assert drops is not None
    assert (oil.low, drops.high) == (D(99), D(1))
    assert drops.low == D("0.50251256")


def test_grams_beside_percents_or_a_rest_ask_for_the_whole() -> None:
    """With it, everything stands."""
    mixed = [Weighed(D(5), D(5), "g"), Weighed(D(3), D(3), "%"), Weighed(unit="rest")]

    assert isinstance(shares(mixed), str)
    assert shares(mixed, total_g=D(200)) == (Interval.point(D("2.5")), Interval(D(3), D(3)), None)


@pytest.mark.parametrize("other", [Weighed(asks="How much?"), Weighed(D(1), D(1), "part")])
def test_no_percent_is_known_while_a_line_asks_or_parts_are_mixed_in(other: Weighed) -> None:
    """The whole isn't known."""
    assert isinstance(shares([Weighed(D(30), D(30), "g"), other]), str)


@given(st.lists(st.decimals("0.1", "5000", places=1), min_size=1, max_size=12))
@example([D("0.1"), D("0.1"), D("3.0"), D("39.0"), D("107.8"), D("259.6")])
def test_shares_of_grams_add_up_to_100(grams: list[Decimal]) -> None:
    """But for 1e-8 on each line, to which a share is rounded; a draft's percents make 100 exactly."""
    found = shares([Weighed(one, one, "g") for one in grams])

    assert not isinstance(found, str)
    total = sum((one.low for one in found if one is not None and one.low is not None), D(0))
    assert abs(total - 100) <= D("0.00000001") * len(grams)


@pytest.mark.parametrize(
    ("text", "grams"),
    [
        ("Water, ad 200 g", "200"),
        ("Water to 1 kg", "1000"),
        ("Water to 0.5 kg\nAloe juice to 500 g", "500"),
        ("Water to 500 ml", None),
        ("Water to 8 oz", None),
        ("Water to 200 g\nAloe juice to 300 g", None),
        ("Water to 1,000 g", None),
        ("Water to 100 %", None),
        ("10 g wax", None),
    ],
)
def test_the_whole_is_known_where_the_recipe_says_its_mass(text: str, grams: str | None) -> None:
    """Not by volume, not in ounces of a liquid, not where two lines differ or a number is in doubt."""
    found = whole_of(read_recipe(text))
    assert found == (None if grams is None else D(grams))
