"""Use levels by product kind and by who says so."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.uselevels import UseLevel, check_use_levels

D = Decimal


def at(*percents: str) -> tuple[FormulaLine, ...]:
    """Lines of one ingredient, the rest water."""
    own = [FormulaLine(str(index), "e", "Emulsifier", D(each)) for index, each in enumerate(percents)]
    return (*own, FormulaLine("w", "w", "Water", kind="to_100"))


@pytest.mark.parametrize(
    ("basis", "severity"),
    [("supplier", "stop"), ("confirmed", "stop"), ("read", "caution"), ("memory", "caution")],
)
def test_over_a_level_weighs_as_much_as_who_says_it(basis: str, severity: str) -> None:
    """Only a supplier's document or the maker's own word stops."""
    level = UseLevel(D(2), D(6), "any", "sheet", basis)

    (found,) = check_use_levels(resolve(at("6.5")).lines, {"e": [level]}, "leave-on")

    assert found.severity == severity
    assert found.message.startswith("Emulsifier stands at 6.5 %; 6 % is the most")


def test_two_lines_of_one_ingredient_add_up() -> None:
    """4 and 3 make 7, over 6."""
    found = check_use_levels(resolve(at("4", "3")).lines, {"e": [UseLevel(None, D(6))]}, "leave-on")

    assert [each.lines for each in found] == [("0", "1")]


def test_a_level_of_the_other_kind_does_not_count() -> None:
    """A rinse-off level says nothing about leave-on."""
    level = UseLevel(None, D(6), "rinse-off", "sheet", "supplier")

    assert check_use_levels(resolve(at("7")).lines, {"e": [level]}, "leave-on") == ()


@pytest.mark.parametrize(("percent", "rules"), [("6", []), ("2", []), ("1.9", ["uselevels.low"])])
def test_at_a_level_passes_and_below_is_a_note(percent: str, rules: list[str]) -> None:
    """Both ends belong to the range."""
    found = check_use_levels(resolve(at(percent)).lines, {"e": [UseLevel(D(2), D(6))]}, "leave-on")

    assert [each.rule for each in found] == rules
    assert all(each.severity == "note" for each in found)
