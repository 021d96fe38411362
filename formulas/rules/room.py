"""Giving one line a new percent while the others make room for it in proportion."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from formulas.rules.number import (
    EXACT_QUANTIZE,
    HUNDRED,
    ONE,
    ZERO,
    difference,
    exact_sum,
    figure,
    share_by_largest_remainder,
)
from formulas.rules.percent import FormulaLine, resolve

USUAL_PLACES = 2
MOST_PLACES = 8
"""Decimals of a percent: as formulas are usually written, and as many as a line keeps."""


def make_room(lines: Sequence[FormulaLine], key: str, percent: Decimal) -> dict[str, Decimal]:
    """New percents of all percent lines, by key, so that line ``key`` takes ``percent`` and the whole makes 100.

    The other percent lines keep their proportions, rounded to 0.01 % or as finely as the figures are written,
    what is left going to the largest remainders. A "to 100" line keeps what it takes now, unless it is the line
    itself; adjust lines stand outside. Raises ValueError, in words for the maker, where no room can be made.
    """
    if not ZERO < percent < HUNDRED:
        raise ValueError(
            f"{figure(percent, places=12)} % leaves nothing for the others, or for the line itself."
        )
    chosen = next((line for line in lines if line.key == key), None)
    if chosen is None or chosen.kind == "adjust":
        raise ValueError("Choose a line that takes a percent.")
    others = [line for line in lines if line.kind == "percent" and line.key != key]
    weights = [line.percent for line in others if line.percent is not None and line.percent > ZERO]
    if not others:
        raise ValueError("There is no other line with a percent that could make room.")
    if len(weights) < len(others):
        raise ValueError("Give every line a percent above 0 first.")
    kept = _kept_by_the_rest(lines, key)
    left = difference(difference(HUNDRED, percent), kept)
    if left <= ZERO:
        raise ValueError(
            f"{figure(percent, places=12)} and {figure(kept, places=12)} for the line “to 100” leave nothing "
            "for the others."
        )
    found = dict(zip([line.key for line in others], _shared(left, weights), strict=True))
    if chosen.kind == "percent":
        found[key] = percent
    return found


def _kept_by_the_rest(lines: Sequence[FormulaLine], key: str) -> Decimal:
    """What the "to 100" line takes now; 0 where there is none or it is the line itself."""
    fillers = [line for line in lines if line.kind == "to_100"]
    if not fillers or fillers[0].key == key:
        return ZERO
    resolved = resolve(lines)
    share = next(line.percent for line in resolved.lines if line.key == fillers[0].key)
    if share is None:
        raise ValueError(f"Nothing is left for {fillers[0].name} as it stands. Lower another line first.")
    return share


def _shared(left: Decimal, weights: Sequence[Decimal]) -> list[Decimal]:
    """``left`` in proportion to the weights, as coarse as it can be with every part above 0."""
    needed = max(places_of(left), USUAL_PLACES, *(places_of(weight) for weight in weights))
    for places in range(needed, MOST_PLACES + 1):
        parts = share_by_largest_remainder(left, weights, ONE.scaleb(-places))
        if all(part > ZERO for part in parts):
            if exact_sum(parts) != left:
                raise ValueError("parts that do not add up")
            return parts
    raise ValueError("The smallest line would come to nothing. Take it out first.")


def places_of(value: Decimal) -> int:
    """How many decimals a figure is written with, idle zeros left out."""
    exponent = value.normalize(EXACT_QUANTIZE).as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0
