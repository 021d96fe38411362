"""What a pot holds that took in rework: several formulas in the proportion of their grams."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from formulas.rules.number import (
    HUNDRED,
    RATIO_DOWN,
    RATIO_UP,
    ZERO,
    exact_product,
    exact_sum,
    share_by_largest_remainder,
)
from formulas.rules.percent import FormulaLine, resolve

STEP = Decimal("0.00000001")
"""Percents are shared out in this step, % of the whole: the finest that a formula keeps."""


@dataclass(frozen=True, slots=True)
class Part:
    """A share of the pot. grams: above 0. lines: the formula that this share was made by, complete."""

    grams: Decimal
    lines: tuple[FormulaLine, ...]


def mixed(parts: Sequence[Part]) -> list[FormulaLine]:
    """The lines of the whole pot, percents adding up to 100 exactly.

    Lines of one ingredient for one purpose become one. An adjust line keeps its range, thinned with its
    part and rounded outward. One part alone comes back as it is. Raises ValueError where a part is not
    above 0 g, its percents don't make 100 or something was strained out of it.
    """
    if len(parts) == 1:
        return list(parts[0].lines)
    whole = exact_sum(part.grams for part in parts)
    shared: dict[tuple[str, str], Decimal] = {}
    adjusted: dict[tuple[str, str], tuple[Decimal, Decimal]] = {}
    patterns: dict[tuple[str, str, str], FormulaLine] = {}
    for part in parts:
        formula = resolve(part.lines)
        if part.grams <= ZERO or not formula.is_complete:
            raise ValueError("a part has grams above 0 and a formula that makes 100")
        if any(line.strained for line in part.lines):
            raise ValueError("a part of which something was strained out has no exact percents")
        for line, resolved in zip(part.lines, formula.lines, strict=True):
            key = (line.ingredient, line.purpose)
            kind = "adjust" if line.kind == "adjust" else "percent"
            patterns.setdefault((kind, *key), line)
            if resolved.percent is not None:
                shared[key] = exact_sum((shared.get(key, ZERO), exact_product(part.grams, resolved.percent)))
            else:
                adjusted[key] = _widened(adjusted.get(key), line, part.grams, whole)
    percents = share_by_largest_remainder(HUNDRED, list(shared.values()), STEP)
    return [
        *(
            replace(patterns["percent", *key], key=f"mix-{number}", kind="percent", percent=percent)
            for number, (key, percent) in enumerate(zip(shared, percents, strict=True), start=1)
            if percent > ZERO
        ),
        *(
            replace(patterns["adjust", *key], key=f"mix-as-needed-{number}", adjust_low=low, adjust_high=high)
            for number, (key, (low, high)) in enumerate(adjusted.items(), start=1)
        ),
    ]


def _widened(
    so_far: tuple[Decimal, Decimal] | None, line: FormulaLine, grams: Decimal, whole: Decimal
) -> tuple[Decimal, Decimal]:
    """The range of an adjust line after another part of the pot brought its share of it."""
    low, high = so_far or (ZERO, ZERO)
    down = RATIO_DOWN.divide(exact_product(line.adjust_low or ZERO, grams), whole)
    up = RATIO_UP.divide(exact_product(line.adjust_high or HUNDRED, grams), whole)
    return RATIO_DOWN.add(low, down), RATIO_UP.add(high, up)
