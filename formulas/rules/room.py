"""Giving one line a new percent while the others make room for it in proportion."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
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
from formulas.rules.percent import FormulaLine, ResolvedLine, resolve

USUAL_PLACES = 2
MOST_PLACES = 8
"""Decimals of a percent: as formulas are usually written, and as many as a line keeps."""


@dataclass(frozen=True, slots=True)
class Room:
    """Percents after room was made.

    percents: of the percent lines, by key; the line "to 100" takes what they leave. shrank: the others gave; False
    where they grew or stay. rest: the name of a "to 100" line that shared in it, and its % before and after.
    """

    percents: dict[str, Decimal]
    shrank: bool = False
    rest: tuple[str, Decimal, Decimal] | None = None


def make_room(lines: Sequence[FormulaLine], key: str, percent: Decimal) -> Room:
    """New percents, so that line ``key`` takes ``percent`` and the whole makes 100.

    All other lines keep their proportions, the "to 100" line with what it takes now among them, rounded to 0.01 % or
    as finely as the figures are written, what is left going to the largest remainders; adjust lines stand outside.
    Raises ValueError, in words for the maker, where no room can be made.
    """
    if not ZERO < percent < HUNDRED:
        raise ValueError(
            f"{figure(percent, places=12)} % leaves nothing for the others, or for the line itself."
        )
    chosen = next((line for line in lines if line.key == key), None)
    if chosen is None or chosen.kind == "adjust":
        raise ValueError("Choose a line that takes a percent.")
    others = [line for line in resolve(lines).lines if line.kind != "adjust" and line.key != key]
    if not others:
        raise ValueError("There is no other line that could make room.")
    weights = [_share_of(line) for line in others]
    parts = _shared(difference(HUNDRED, percent), weights)
    found = Room(
        {line.key: part for line, part in zip(others, parts, strict=True) if line.kind == "percent"},
        shrank=exact_sum(parts) < exact_sum(weights),
        rest=next(
            (
                (line.name, weight, part)
                for line, weight, part in zip(others, weights, parts, strict=True)
                if line.kind == "to_100"
            ),
            None,
        ),
    )
    if chosen.kind == "percent":
        found.percents[key] = percent
    return found


def _share_of(line: ResolvedLine) -> Decimal:
    """What a line takes now, above 0."""
    if line.percent is None and line.kind == "to_100":
        raise ValueError(f"Nothing is left for {line.name} as it stands. Lower another line first.")
    if line.percent is None or line.percent <= ZERO:
        raise ValueError("Give every line a percent above 0 first.")
    return line.percent


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
