"""A percent and a mass side by side on every line: the same amount said twice, once all lines agree on the whole."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from formulas.rules.number import RATIO_UP, figure
from formulas.rules.recipe.measures import measure
from formulas.rules.recipe.said import Amount, RecipeLine

LEAST_LINES = 2
OFF_BY = Fraction(1, 2)
"""Percent by which the percents of a whole recipe may miss 100 by rounding."""


def told_apart(lines: Sequence[RecipeLine], without: Collection[int] = ()) -> list[RecipeLine]:
    """Each line with its percent where the masses say the same; as it was where they don't.

    without: numbers of lines that decide nothing, since they were left out; nor does a line without any figure.

    A strength beside an amount ("vitamin E 50 %, 3 g") looks alike on its line, and agrees with no other one.
    """
    both = [line for line in lines if line.both is not None]
    others = [
        line
        for line in lines
        if line.kind == "line"
        and line.both is None
        and line.number not in without
        and (line.is_rest or any(mark.isdigit() for mark in line.text))
    ]
    if len(both) < LEAST_LINES or any(line.asks or not line.is_rest for line in others):
        return list(lines)
    pairs = [line.both for line in both if line.both is not None]
    whole = _whole(pairs, has_rest=bool(others))
    if whole is None:
        return list(lines)
    return [_by_percent(line, whole) if line.both else line for line in lines]


def _by_percent(line: RecipeLine, whole: Fraction) -> RecipeLine:
    if line.both is None:
        return line
    share, mass = line.both
    said = figure(RATIO_UP.divide(Decimal(whole.numerator), Decimal(whole.denominator)), places=1)
    note = f"{mass.typed} says the same of a whole of {said} g."
    return replace(line, amounts=(share,), asks="", may_mean=(), both=None, notes=(*line.notes, note))


def _whole(pairs: Sequence[tuple[Amount, Amount]], *, has_rest: bool) -> Fraction | None:
    """Grams of the whole on which percents and masses agree; None where they don't."""
    if any(amount.count.low != amount.count.high for pair in pairs for amount in pair):
        return None
    percents = [share.count.low for share, _ in pairs]
    together = sum(percents, Fraction(0))
    if min(percents) <= 0 or together > 100 + OFF_BY or (not has_rest and together < 100 - OFF_BY):
        return None
    sizes = [measure(mass.unit, "any") for _, mass in pairs]
    if any(size is None or size.kind != "mass" for size in sizes):
        return None
    grams = [
        mass.count.low * Fraction(size.low) for (_, mass), size in zip(pairs, sizes, strict=True) if size
    ]
    whole = sum(grams, Fraction(0)) * 100 / together
    for (share, mass), size, weight in zip(pairs, sizes, grams, strict=True):
        if size is None:
            return None
        may_miss = mass.off_by * Fraction(size.low) + share.off_by * whole / 100
        if abs(weight - share.count.low * whole / 100) > may_miss:
            return None
    return whole
