"""A recipe held to limits before it is a draft: silent where both ends pass, stopped where both fail, else unknown.

Limits: Reg (EC) 1223/2009, Annex V/29, phenoxyethanol 1.0 % in the product.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.findings import Finding
from formulas.rules.interval import Interval
from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.recipe.held import WEIGH, OnRecord, ReadLine, held_to_limits
from formulas.rules.totals import NestedFormula
from formulas.rules.uselevels import UseLevel
from tests.formulas.rules.test_limits import pure

D = Decimal
USE = ProductUse("leave-on", "hands")
KNOWN = OnRecord({name: pure(name) for name in ("Phenoxyethanol", "Glycerin")}, {}, {})


def recipe(low: str, high: str, known: OnRecord = KNOWN) -> tuple[Finding, ...]:
    """What is said of phenoxyethanol between two percents in glycerin to 100."""
    lines = [
        ReadLine("1", "Phenoxyethanol", "Phenoxyethanol", Interval(D(low), D(high))),
        ReadLine("2", "Glycerin", "Glycerin", None),
    ]
    return held_to_limits(lines, known, USE)


def severities(found: tuple[Finding, ...]) -> list[str]:
    """In the order in which they stand."""
    return [one.severity for one in found]


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        ("0.4", "0.9", []),
        ("0.4", "1.0", []),
        ("0.4", "1.00000001", ["unknown"]),
        ("1.0", "2", ["unknown"]),
        ("1.00000001", "2", ["stop"]),
        ("1.0", "1.0", []),
        ("1.2", "1.2", ["stop"]),
    ],
)
def test_a_range_is_unknown_unless_both_ends_pass(low: str, high: str, expected: list[str]) -> None:
    """At the limit passes; what even the lower end exceeds is stopped."""
    found = recipe(low, high)

    assert severities(found) == expected
    if expected == ["unknown"]:
        assert "1 %" in found[0].message
        assert found[0].cure == WEIGH


@pytest.mark.parametrize(
    ("low", "high", "basis", "expected"),
    [
        ("0.1", "0.5", "supplier", []),
        ("0.1", "0.6", "supplier", ["unknown"]),
        ("0.51", "0.6", "supplier", ["stop"]),
        ("0.51", "0.6", "memory", ["caution"]),
        ("0.1", "0.6", "memory", ["unknown"]),
    ],
)
def test_use_levels_alike(low: str, high: str, basis: str, expected: list[str]) -> None:
    """A level from memory cautions where both ends are over it, and never stops."""
    levels = {"Phenoxyethanol": [UseLevel(D("0.1"), D("0.5"), "any", "sheet", basis)]}
    assert severities(recipe(low, high, OnRecord(KNOWN.compositions, {}, levels))) == expected


def test_what_is_not_on_record_is_unknown() -> None:
    """A material without a composition may hold anything."""
    found = held_to_limits([ReadLine("1", "new:moonmilk", "moonmilk", Interval.point(D(100)))], KNOWN, USE)
    assert severities(found) == ["unknown"]
    assert found[0].lines == ("1",)


def test_what_is_left_runs_from_end_to_end() -> None:
    """Water to 100 beside 10 to 30 % of something is 70 to 90 %: here of phenoxyethanol, to be seen."""
    lines = [
        ReadLine("1", "Glycerin", "Glycerin", Interval(D(10), D("30"))),
        ReadLine("2", "Phenoxyethanol", "Phenoxyethanol", None),
    ]
    (found,) = held_to_limits(lines, KNOWN, USE)
    assert found.severity == "stop"
    assert "70" in found.message


def test_through_a_premix_and_round_in_a_circle() -> None:
    """Half of a premix at 1 to 3 % is 0.5 to 1.5 %; a recipe cannot take what is made of itself."""
    half = resolve(
        [
            FormulaLine("a", "Phenoxyethanol", "Phenoxyethanol", D(50)),
            FormulaLine("b", "Glycerin", "Glycerin", D(50)),
        ]
    )
    premix = NestedFormula("mix", "Premix", half)
    lines = [
        ReadLine("1", "mix", "Premix", Interval(D(1), D(3))),
        ReadLine("2", "Glycerin", "Glycerin", None),
    ]
    found = held_to_limits(lines, OnRecord(KNOWN.compositions, {"mix": premix}, {}), USE)
    assert severities(found) == ["unknown"]

    circle = NestedFormula("mix", "Premix", resolve([FormulaLine("a", "mix", "Premix", D(100))]))
    found = held_to_limits(lines, OnRecord(KNOWN.compositions, {"mix": circle}, {}), USE)
    assert [one.rule for one in found] == ["recipe.cycle"]


@given(st.integers(0, 300), st.integers(0, 300))
def test_silence_means_that_both_ends_pass(one: int, other: int) -> None:
    """Whatever lies between."""
    low, high = sorted((D(one) / 100, D(other) / 100))
    found = held_to_limits(
        [
            ReadLine("1", "Phenoxyethanol", "Phenoxyethanol", Interval(low, high)),
            ReadLine("2", "Glycerin", "Glycerin", None),
        ],
        KNOWN,
        USE,
    )
    assert (not found) == (high <= 1)
    assert ("stop" in severities(found)) == (low > 1)


def test_a_premix_is_judged_where_it_goes_in() -> None:
    """40 % of phenoxyethanol in a premix is no product of 40 %; in a balm it stops."""
    lines = [
        ReadLine("1", "Phenoxyethanol", "Phenoxyethanol", Interval.point(D(40))),
        ReadLine("2", "Glycerin", "Glycerin", None),
    ]
    assert not held_to_limits(lines, KNOWN, USE, form="premix")
    assert severities(held_to_limits(lines, KNOWN, USE, form="balm")) == ["stop"]
