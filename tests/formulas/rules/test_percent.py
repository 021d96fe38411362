"""Lines to resolved percents, the sum, and grams."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.percent import FormulaLine, GramLine, GramPlan, ResolvedFormula, grams, resolve
from tests.formulas.rules.strategies import complete_formulas

D = Decimal


def line(key: str, percent: str | None = None, **more: Any) -> FormulaLine:
    """A line named by its key."""
    return FormulaLine(key, key, key, None if percent is None else D(percent), **more)


def rules_of(formula: ResolvedFormula) -> list[str]:
    """The rules that found something."""
    return [finding.rule for finding in formula.findings]


def test_the_to_100_line_takes_what_is_left() -> None:
    """100 less 12.3456 is 87.6544."""
    formula = resolve([line("oil", "12.3456"), line("water", kind="to_100")])

    assert [each.percent for each in formula.lines] == [D("12.3456"), D("87.6544")]
    assert formula.is_complete


def test_a_sum_short_by_a_ten_thousandth_is_said_exactly() -> None:
    """99.9999 misses 0.0001."""
    formula = resolve([line("butter", "60"), line("oil", "39.9999")])

    assert formula.findings[0].message == "0.0001 is missing from 100: the lines make 99.9999."
    assert formula.findings[0].severity == "stop"
    assert "butter" in formula.findings[0].cure


def test_a_sum_over_by_a_ten_thousandth_is_said_exactly() -> None:
    """100.0001 is 0.0001 over."""
    formula = resolve([line("butter", "60"), line("oil", "40.0001")])

    assert formula.findings[0].message == "0.0001 over 100: the lines make 100.0001."


def test_exactly_100_without_a_to_100_line_passes() -> None:
    """Nothing to say."""
    formula = resolve([line("butter", "60"), line("oil", "40")])

    assert formula.findings == ()
    assert formula.is_complete


@pytest.mark.parametrize(
    ("lines", "rule"),
    [
        ([], "formula.empty"),
        ([line("a", kind="to_100"), line("b", kind="to_100")], "formula.two_to_100"),
        ([line("a", "100"), line("b", kind="to_100")], "formula.to_100"),
        ([line("a", "101"), line("b", kind="to_100")], "formula.percent"),
        ([line("a", "0"), line("b", "100")], "formula.percent"),
        ([line("a", "-1"), line("b", "101")], "formula.percent"),
        ([line("a"), line("b", "100")], "formula.percent"),
        ([line("a", "100"), line("acid", kind="adjust")], "formula.adjust"),
        (
            [line("a", "100"), line("acid", kind="adjust", adjust_low=D(2), adjust_high=D(1))],
            "formula.adjust",
        ),
        ([line("a", "100"), line("acid", kind="adjust", adjust_high=D(0))], "formula.adjust"),
    ],
)
def test_what_cannot_stand_stops(lines: list[FormulaLine], rule: str) -> None:
    """Each is a stop, and the formula isn't complete."""
    formula = resolve(lines)

    assert rule in rules_of(formula)
    assert all(finding.severity == "stop" and finding.cure for finding in formula.findings)
    assert not formula.is_complete


def test_an_adjust_line_stands_outside_the_sum() -> None:
    """100 stays 100 beside lactic acid as needed, 0.1 to 0.5 %; in grams it is a range on top."""
    lines = [line("water", "100"), line("acid", kind="adjust", adjust_low=D("0.1"), adjust_high=D("0.5"))]

    plan = grams(lines, D(1000), D("0.1"))

    assert plan.lines == (GramLine("water", D(1000), D(1000)),)
    assert plan.adjust == (GramLine("acid", D("1.0"), D("5.0")),)


def test_grams_of_an_incomplete_formula_are_refused() -> None:
    """No grams from 99 %."""
    with pytest.raises(ValueError, match="make 99, not 100"):
        grams([line("a", "99")], D(100), D("0.1"))


def test_a_plan_that_does_not_add_up_refuses_to_exist() -> None:
    """The value object guards its own sum."""
    with pytest.raises(ValueError, match="add up"):
        GramPlan(D(10), D("0.1"), (GramLine("a", D("9.9"), D("9.9")),), ())


@given(
    lines=complete_formulas(),
    total=st.decimals("0.1", "50000", places=3),
    step=st.sampled_from(["1", "0.1", "0.01"]),
)
def test_grams_add_up_to_the_batch(lines: list[FormulaLine], total: Decimal, step: str) -> None:
    """The parts make the total, rounded up to the step, exactly; percents come back within a step."""
    plan = grams(lines, total, D(step))

    assert sum(each.low_g for each in plan.lines) == plan.total_g
    assert total <= plan.total_g < total + D(step)
    percents = {each.key: each.percent for each in resolve(lines).lines}
    for each in plan.lines:
        true_g = Fraction(percents[each.key] or D(0)) * Fraction(plan.total_g) / 100
        assert abs(Fraction(each.low_g) - true_g) < Fraction(step)
