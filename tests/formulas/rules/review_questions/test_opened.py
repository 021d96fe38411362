"""What a formula is of once premixes and infusions are opened: every way in, and nothing lost."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.review import Asked, FormulaForReview, prepare
from formulas.rules.review.parts import opened
from formulas.rules.totals import NestedFormula

D = Decimal


def line(key: str, percent: str = "", **more: Any) -> FormulaLine:
    """A line of an ingredient named by its key; to 100 without a percent."""
    if not percent:
        return FormulaLine(key, key, key.title(), kind="to_100")
    return FormulaLine(key, key, key.title(), D(percent), **more)


def inner(key: str, *lines: FormulaLine) -> NestedFormula:
    """What an in-house ingredient is made from."""
    return NestedFormula(key, key.title(), resolve(lines))


def asked_of(*lines: FormulaLine, nested: tuple[NestedFormula, ...] = ()) -> Asked:
    """A balm of these lines."""
    by_key = {one.key: one for one in nested}
    return prepare(FormulaForReview(lines, ProductUse("leave-on", "body"), form="balm", nested=by_key))


def test_each_way_in_is_named_and_they_add_up() -> None:
    """10 % oil by itself, 20 % of a premix that is half oil and half of another premix, which is 40 % oil: 24 %."""
    asked = asked_of(
        line("wax"), line("oil", "10"), line("premix", "20"),
        nested=(inner("premix", line("oil", "50"), line("core")), inner("core", line("oil", "40"), line("wax"))),
    )  # fmt: skip

    found = {one.name: one for one in opened(asked)}

    assert {name: one.percent.expected for name, one in found.items()} == {"Wax": D(76), "Oil": D(24)}
    ways = {part.through: part.percent.expected for part in found["Oil"].parts}
    assert ways == {(): D(10), ("Premix",): D(10), ("Premix", "Core"): D(4)}
    assert [one.name for one in opened(asked)] == ["Wax", "Oil"]


def test_what_was_strained_out_goes_from_nothing_to_what_may_have_dissolved() -> None:
    """5 g of a herb in 95 g of oil, a fifth of the balm: up to a fifth of 5 in 100."""
    herb = line("herb", "5", strained=True)
    asked = asked_of(line("wax"), line("infusion", "20"), nested=(inner("infusion", herb, line("oil")),))

    found = {one.name: one for one in opened(asked)}

    assert found["Herb"].percent.low == 0
    assert found["Herb"].percent.high == D(1)
    assert found["Herb"].parts[0].strained
    assert found["Oil"].percent.low == D(19)


def test_a_formula_of_bought_ingredients_alone_has_nothing_to_open() -> None:
    """Its lines say it already."""
    assert opened(asked_of(line("wax"), line("oil", "10"))) == ()


@given(shares=st.lists(st.integers(1, 99), min_size=1, max_size=6), top=st.integers(1, 99))
def test_opening_loses_nothing_at_any_depth(shares: list[int], top: int) -> None:
    """A chain of premixes, each part oil and part of the next: all of it makes 100."""
    nested = tuple(
        inner(
            f"p{depth}", line("oil", str(share)), line(f"p{depth + 1}" if depth + 1 < len(shares) else "wax")
        )
        for depth, share in enumerate(shares)
    )
    asked = asked_of(line("p0", str(top)), line("water"), nested=nested)

    assert sum(one.percent.expected or 0 for one in opened(asked)) == 100
