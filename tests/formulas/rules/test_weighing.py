"""What a scale can weigh."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.rules.findings import Finding
from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine
from formulas.rules.review import FormulaForReview, ScaleFacts, prepare
from formulas.rules.review.weighing import check_weighing, is_weighed
from formulas.rules.weighing import deviation, least_batch, least_weight, percent_error

D = Decimal
LINES = (
    FormulaLine("a", "a", "Oil", D("90")),
    FormulaLine("b", "b", "Wax", D("9.5")),
    FormulaLine("c", "c", "Vitamin E", D("0.5")),
)


def found_for(mass: str | None, scale: ScaleFacts | None) -> tuple[Finding, ...]:
    """What the question says of the three lines."""
    formula = FormulaForReview(
        LINES, ProductUse("leave-on", "body"), mass_g=D(mass) if mass else None, scale=scale
    )
    return tuple(check_weighing(prepare(formula)))


def test_the_published_least_weight() -> None:
    """s = 0.00015 g: 0.30000 g, by the text of USP <41>."""
    assert least_weight(deviation(D("0.0001"), D("0.00015"))) == D("0.3")


@pytest.mark.parametrize(("step", "least"), [("0.1", "82"), ("0.01", "8.2"), ("0.001", "0.82")])
def test_the_floor_of_a_scale_is_820_steps(step: str, least: str) -> None:
    """USP <41>: s below 0.41 of a step counts as 0.41 of it."""
    assert least_weight(deviation(D(step), None)) == D(least)
    assert least_weight(deviation(D(step), D(0))) == D(least)


def test_another_tolerance_gives_another_least() -> None:
    """At 1 %: 82 steps, 8.2 g on a scale of 0.1 g, which is the least batch of a line of 100 %."""
    s = deviation(D("0.1"), None)

    assert least_weight(s, D(1)) == D("8.2")
    assert least_batch(s, D("0.5"), D(1)) == D(1640)
    assert percent_error(s, D("8.2")) == D(1)


def test_one_finding_names_the_worst_lines() -> None:
    """200 g on 0.1 g: 1 g of vitamin E may be 8.2 % off; the wax at 19 g is within 1 %."""
    (found,) = found_for("200", ScaleFacts("the kitchen scale", D("0.1")))

    assert found.severity == "caution"
    assert "Vitamin E (1 g) up to 8.2 %" in found.message
    assert "by USP <41> is 82 g" in found.message
    assert found.lines == ("c",)
    assert "328 g or more keeps every line within 5 %, of 1640 g within 1 %" in found.cure


def test_a_little_off_is_a_note_and_at_1_percent_is_quiet() -> None:
    """1000 g: 1.64 % off; 1640 g: exactly 1 %."""
    scale = ScaleFacts("scale", D("0.1"))

    assert [each.severity for each in found_for("1000", scale)] == ["note"]
    assert found_for("1640", scale) == ()


def test_a_scale_that_repeats_badly_counts_as_it_does() -> None:
    """s = 0.2 g on a step of 0.1 g: 2 x 0.2 of 8.2 g is 4.9 %."""
    (found,) = found_for("1640", ScaleFacts("scale", D("0.1"), repeatability_g=D("0.2")))

    assert "up to 4.9 %" in found.message


def test_more_than_the_scale_bears_is_said() -> None:
    """2000 g on a scale of 1000 g."""
    found = found_for("2000", ScaleFacts("scale", D("0.1"), capacity_g=D(1000)))

    assert [each.rule for each in found] == ["weighing.capacity"]


@pytest.mark.parametrize(
    ("mass", "scale"), [(None, ScaleFacts("s", D(1))), ("100", None), ("0", ScaleFacts("s", D(1)))]
)
def test_quiet_without_batch_or_scale(mass: str | None, scale: ScaleFacts | None) -> None:
    """Nothing to compare, and nothing listed as passed."""
    formula = FormulaForReview(
        LINES, ProductUse("leave-on", "body"), mass_g=D(mass) if mass else None, scale=scale
    )

    assert found_for(mass, scale) == ()
    assert not is_weighed(prepare(formula))
