"""How warm is it poured: which of the steps is the one that pours."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from formulas.rules.review import StepFacts
from formulas.rules.review.order import check_order
from formulas.rules.review.pouring import Pour, pour_of
from tests.formulas.rules.review_questions.pot import ask, rules_of, told

D = Decimal
Written = tuple[str, str, str]
"""Phase, text, target in °C or ""."""


def steps_of(written: Sequence[Written]) -> tuple[StepFacts, ...]:
    """Steps in their order."""
    return tuple(
        StepFacts(number, text, phase, target_c=D(heat) if heat else None)
        for number, (phase, text, heat) in enumerate(written, start=1)
    )


def poured(*written: Written) -> Pour:
    """What is taken for the pour; phases A and B have lines."""
    found = pour_of(steps_of(written), {"A", "B"})
    assert found is not None
    return found


MELT = (("A", "Melt together", "75"), ("B", "Whisk in the clay", "62"))


@pytest.mark.parametrize(
    "after",
    [
        ("Leave to set overnight", "18"),
        ("Set in the moulds overnight at room temperature", "18"),
        ("Once poured, cool in the fridge", "5"),
        ("After pouring, leave to stand", "20"),
        ("Unmould", "20"),
        ("Über Nacht fest werden lassen", "18"),
        ("Laisser durcir dans les moules", "18"),
        ("Dejar enfriar en los moldes", "18"),
        ("Lasciare raffreddare negli stampi", "18"),
        ("Laat afkoelen in de vormen", "18"),
    ],
)
def test_setting_is_not_pouring(after: tuple[str, str]) -> None:
    """It is poured at 60 °C and sets at 18; words of six languages, from memory."""
    found = poured(*MELT, ("", "Pour into moulds", "60"), ("", *after))

    assert (found.heat_c, found.step) == (D(60), "step 3 “Pour into moulds”")


@pytest.mark.parametrize(
    "text",
    [
        "Pour into moulds", "Fill the tins", "Cast", "Cool, stirring, then pour and leave to set", "Decant",
        "In die Formen gießen", "In Tiegel abfüllen", "Verser dans les moules", "Couler", "Verter en moldes", "Llenar",
        "Versare negli stampi", "Into jars", "Colare", "In de vormen gieten", "Afvullen",
    ],
)  # fmt: skip
def test_a_step_that_pours_is_known_by_its_words(text: str) -> None:
    """Also where it cools before."""
    assert poured(*MELT, ("", text, "45"), ("", "Wait", "50")).heat_c == 45


def test_without_such_words_the_hottest_from_the_last_addition_on_is_taken() -> None:
    """The melt before it is no measure, and what sets isn't either; it is said that no step pours."""
    found = poured(*MELT, ("", "Stir", "55"), ("", "Cool overnight", "18"))

    assert found.heat_c == 62
    assert found.step == (
        "no step says that it is poured; step 2 “Whisk in the clay” is the hottest from the last addition on"
    )


def test_what_is_poured_before_the_last_addition_isnt_the_pour() -> None:
    """Oil into water, say."""
    assert poured(("A", "Pour over the wax", "80"), ("B", "Stir in", "45"), ("", "Pour", "40")).heat_c == 40
    assert poured(("A", "Pour over the wax", "80"), ("B", "Stir in", "45")).heat_c == 45


def test_a_pour_without_a_temperature_goes_by_the_step_before() -> None:
    """And says so."""
    found = poured(*MELT, ("", "Pour into tins", ""), ("", "Leave to set", "18"))

    assert found.heat_c == 62
    assert found.step == "step 3 “Pour into tins” has no temperature; step 2 before it is at 62 °C"
    assert pour_of(steps_of([("A", "Melt", ""), ("", "Pour", "")]), {"A"}) is None
    assert pour_of((), {"A"}) is None


BALM = "shea-butter 9, beeswax 10, sunflower-oil 78, kaolin-white-clay 3"


@pytest.mark.parametrize(("heat", "told_of"), [("60", True), ("38", False)])
def test_solids_sink_by_the_pour_and_not_by_what_sets(heat: str, told_of: bool) -> None:
    """The step is named."""
    steps = steps_of([*MELT, ("", "Pour into moulds", heat), ("", "Leave to set overnight", "18")])
    found = check_order(ask(BALM, form="balm", phases="A beeswax; B kaolin-white-clay", steps=steps))

    assert ("order.solids" in rules_of(found)) is told_of
    if told_of:
        assert told(found, "order.solids").message == (
            "kaolin-white-clay 3 % sinks when poured at 60 °C (step 3 “Pour into moulds”); near 33 °C the melt"
            " holds it."
        )


def test_poured_at_least_at_30_may_be_too_warm() -> None:
    """A lower end alone bounds nothing."""
    steps = (StepFacts(1, "Melt", "A", target_c=D(75)), StepFacts(2, "Pour", min_c=D(30)))
    found = check_order(ask(BALM, form="balm", phases="A beeswax kaolin-white-clay", steps=steps))

    assert "poured at 30 °C or more" in told(found, "order.solids").message
