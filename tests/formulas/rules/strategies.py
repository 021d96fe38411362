"""Hypothesis strategies for formulas: kept in one file."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import strategies as st

from formulas.rules.composition import Composition, Constituent
from formulas.rules.percent import FormulaLine

PERCENT_STEP = Decimal("0.00000001")


@st.composite
def complete_formulas(
    draw: st.DrawFn, ingredients: tuple[str, ...] = ("a", "b", "c", "d"), most: int = 12
) -> list[FormulaLine]:
    """Lines with percents to eight places that make exactly 100, by a "to 100" line."""
    count = draw(st.integers(1, most))
    parts = draw(st.lists(st.integers(1, 10**10 // 13), min_size=count, max_size=count))
    lines = [
        FormulaLine(str(index), draw(st.sampled_from(ingredients)), f"line {index}", part * PERCENT_STEP)
        for index, part in enumerate(parts)
    ]
    return [*lines, FormulaLine("rest", ingredients[0], "rest", kind="to_100")]


@st.composite
def point_compositions(draw: st.DrawFn, ingredient: str) -> Composition:
    """Shares that are points and make 100 or less; what is missing is a remainder."""
    count = draw(st.integers(1, 5))
    parts = draw(st.lists(st.integers(1, 10**8 // 5), min_size=count, max_size=count))
    return Composition(
        ingredient,
        ingredient,
        tuple(
            Constituent(f"s{index}", f"S{index}", typical=Decimal(part) / 10**6)
            for index, part in enumerate(parts)
        ),
    )


@st.composite
def mixed_compositions(draw: st.DrawFn, ingredient: str) -> Composition:
    """Shares as points, as ranges, or in their order alone; and perhaps something within the first."""
    count = draw(st.integers(1, 4))
    ordered = draw(st.booleans())
    parts: list[Constituent] = []
    for index in range(count):
        low = Decimal(draw(st.integers(1, 10**6))) / 10**5
        high = low + Decimal(draw(st.integers(0, 10**6))) / 10**5
        if ordered:
            parts.append(Constituent(f"s{index}", f"S{index}", rank=index + 1))
        else:
            parts.append(Constituent(f"s{index}", f"S{index}", low=low, high=high))
    if draw(st.booleans()):
        parts.append(Constituent("trace", "TRACE", kind="within", high=Decimal("0.5")))
    return Composition(ingredient, ingredient, tuple(parts))
