"""Lines of recipes: what stands there is read, what doesn't is asked."""

from __future__ import annotations

import pytest

from formulas.rules.recipe.lines import read_line, read_recipe
from formulas.rules.recipe.said import RecipeLine


def amounts(line: RecipeLine) -> list[str]:
    """As "low-high unit"."""
    return [
        f"{one.count.low} {one.unit}"
        if one.count.low == one.count.high
        else f"{one.count.low}-{one.count.high} {one.unit}"
        for one in line.amounts
    ]


@pytest.mark.parametrize(
    ("text", "name", "found"),
    [
        ("120 g cocoa butter", "cocoa butter", ["120 g"]),
        ("1 1/2 tbsp jojoba oil", "jojoba oil", ["3/2 tbsp"]),
        ("10 drops lavender", "lavender", ["10 drop"]),
        ("3,5 oz shea", "shea", ["7/2 oz"]),
        ("2 parts beeswax", "beeswax", ["2 part"]),
        ("1 tsp vit E", "vit E", ["1 tsp"]),
        ("Shea butter: 20%", "Shea butter", ["20 %"]),
        ("Beeswax - 10 g", "Beeswax", ["10 g"]),
        ("Cocoa butter\t120\tg", "Cocoa butter", ["120 g"]),
        ("• 1.5kg salt", "salt", ["3/2 kg"]),
        ("2) 4 fl. oz. witch hazel", "witch hazel", ["4 fl oz"]),
        ("1-2 drops clove", "clove", ["1-2 drop"]),
        ("Provitamin B5 2 g", "Provitamin B5", ["2 g"]),
        ("CI 77491 0.5 g", "CI 77491", ["1/2 g"]),
        ("2 tablespoons plus 1 teaspoon oil", "oil", ["2 tbsp", "1 tsp"]),
    ],
)
def test_an_amount_and_a_name(text: str, name: str, found: list[str]) -> None:
    """In front or behind, and nothing asked."""
    line = read_line(text)

    assert (line.kind, line.name, amounts(line), line.asks) == ("line", name, found, "")


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("½ cup sugar (200g)", ["200 g"]),
        ("100 g (1/2 cup) sugar", ["100 g"]),
        ("100g/3½oz wax", ["100 g"]),
        ("200ml/7oz water", ["200 ml"]),
        ("1 cup (250 ml) milk", ["250 ml"]),
    ],
)
def test_of_one_amount_said_twice_the_mass_counts_or_the_metric(text: str, found: list[str]) -> None:
    """And the line says so."""
    line = read_line(text)

    assert (amounts(line), line.asks) == (found, "")
    assert line.notes


@pytest.mark.parametrize(
    "text",
    [
        "12 gr mica", "5 T honey", "1 t salt", "2 c sugar", "a pinch of salt", "salt", "3 eggs", "BTMS 5",
        "1,000 g water", "2 x 100 g bars", "1 (14 oz) can coconut milk", "12 cups flakes (from one 12-ounce box)",
        "1 tsp or 2 tsp clay", "100 g wax (4.5 oz)", "A heaped teaspoon of clay", "Add 2 tsp vitamin E",
        "Vitamin E 400 IU", "Lactic acid, 80 %: 3 %", "3-2 g wax", "2 jars (400 g each) honey",
    ],
)  # fmt: skip
def test_what_is_not_certain_is_asked(text: str) -> None:
    """With a sentence; never a guess."""
    assert read_line(text).asks


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Phase A", "heading"), ("PHASE B: oils", "heading"), ("Oil phase:", "heading"), ("# Cool down", "heading"),
        ("A", "heading"), ("Total 100 %", "words"), ("TOTAL: 250 g", "words"), ("Makes 4 tins", "words"),
        ("Melt the oils at 70 C for 20 minutes.", "words"),
        ("This one keeps my hands soft all winter, and the tin lasts me from November until well into March.", "words"),
    ],
)  # fmt: skip
def test_headings_and_words_are_no_lines(text: str, kind: str) -> None:
    """They stay to be seen."""
    line = read_line(text)

    assert (line.kind, line.asks) == (kind, "")


@pytest.mark.parametrize("text", ["to 100 % water", "Water to 100%", "Water q.s. to 100", "water, balance"])
def test_to_100_takes_what_is_left(text: str) -> None:
    """However it is put."""
    line = read_line(text)

    assert (line.kind, line.is_rest, line.asks, line.name.lower()) == ("line", True, "", "water")


def test_a_recipe_keeps_the_numbers_of_its_lines() -> None:
    """Empty lines are passed over."""
    assert [line.number for line in read_recipe("Phase A\n\n10 g wax\n  \n5 g oil")] == [1, 3, 5]
