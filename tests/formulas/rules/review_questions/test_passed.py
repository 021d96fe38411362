"""Which questions a review lists as passed: those that nothing it says goes against. No outside source."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.rules.review import review
from formulas.rules.review.asked import Asked
from formulas.rules.review.questions import HARMLESS, QUESTIONS
from formulas.rules.uselevels import UseLevel
from tests.formulas.rules.review_questions.pot import ask, rules_of

D = Decimal
ORDER = "Phases meet warm, nothing drops out"
DIETARY = "Nothing known to be on a list of food allergens"
OILS = "Essential oils within known limits"
LEVELS = "Within use levels"


def passed(asked: Asked) -> tuple[str, ...]:
    """Titles."""
    return review(asked.formula).passed


def test_what_may_come_from_an_allergen_is_not_known_to_come_from_none() -> None:
    """Vitamin E, from soya or sunflower; beeswax is from bees, which are on no list: saying so does no harm."""
    assert DIETARY not in passed(ask("sunflower-oil 99.5, vitamin-e-mixed-tocopherols 0.5"))

    waxed = ask("sunflower-oil 80, beeswax 20")
    assert "dietary.bee" in rules_of(review(waxed.formula).findings)
    assert DIETARY in passed(waxed)


def test_a_powder_that_sinks_drops_out() -> None:
    """Arrowroot poured at 58 °C; near 33 °C it stays (common practice, no source)."""
    recipe = "shea-butter 47, coconut-oil 50, arrowroot-powder 3"
    phases = "A shea-butter coconut-oil arrowroot-powder"

    hot, cool = (ask(recipe, phases=phases, heat={"A": degrees}) for degrees in ("58", "35"))

    assert "order.solids" in rules_of(review(hot.formula).findings)
    assert ORDER not in passed(hot)
    assert ORDER in passed(cool)


def test_an_oil_without_a_limit_on_record_is_within_none() -> None:
    """Lavender's limit is its supplier's; over that of the certificate it isn't within either."""

    def oily(percent: str, *levels: UseLevel, category: str = "5A") -> Asked:
        recipe = f"sunflower-oil {100 - D(percent)}, lavender-oil {percent}"
        return ask(recipe, use_levels={"lavender-oil": levels}, perfume_category=category)

    own = UseLevel(None, D(2), source="Certificate", basis="supplier", category="5A")

    assert OILS not in passed(oily("1"))
    assert OILS in passed(oily("1", own))
    assert OILS not in passed(oily("2.5", own))
    assert OILS not in passed(oily("1", own, category=""))


def test_below_its_usual_range_is_not_within_it() -> None:
    """1 % where 2 % is the usual least."""
    low = ask("sunflower-oil 99, beeswax 1", use_levels={"beeswax": [UseLevel(D(2), D(30))]})

    assert LEVELS not in passed(low)
    assert LEVELS in passed(
        ask("sunflower-oil 97, beeswax 3", use_levels={"beeswax": [UseLevel(D(2), D(30))]})
    )


@pytest.mark.parametrize("key", HARMLESS)
def test_harmless_notes_are_of_a_question(key: str) -> None:
    """Every key is a question's."""
    assert key in {question.key for question in QUESTIONS}
