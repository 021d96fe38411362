"""Choosing emulsifiers by HLB, the balance of water-loving and oil-loving; published figures are rough guides.

The required HLB of an oil phase is the mean of its parts' by mass. Additivity was never demonstrated
(Pasquali et al., Int. J. Pharm. 356 (2008) 44-51). Figures: data/hlb.csv.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Literal

from formulas.rules.number import RATIO_DOWN, ZERO, difference, exact_product, exact_sum
from formulas.rules.tables import DATA
from makers.rules.tables import read_rows

Kind = Literal["required", "emulsifier"]


@dataclass(frozen=True, slots=True)
class HlbRow:
    """A published figure. kind: what an oil-phase material requires, or what an emulsifier has."""

    substance: str
    name: str
    kind: Kind
    hlb: Decimal
    source: str
    basis: str


@cache
def hlb_by_substance(kind: Kind) -> Mapping[str, HlbRow]:
    """The published figures of one kind by substance key."""
    return {row.substance: row for row in read_rows(DATA / "hlb.csv", HlbRow, only={"kind": kind})}


def mean_hlb(parts: Sequence[tuple[Decimal, Decimal]]) -> Decimal | None:
    """The mean of (mass, HLB) by mass; None for nothing. 50 digits, rounded down."""
    mass = exact_sum(each for each, _ in parts)
    if mass <= ZERO:
        return None
    return RATIO_DOWN.divide(exact_sum(exact_product(each, hlb) for each, hlb in parts), mass)


def share_of_high(required: Decimal, high: Decimal, low: Decimal) -> Decimal | None:
    """The share (0 to 1) of the emulsifier of high HLB in a pair that meets what is required.

    None where what is required lies outside the pair: no share of the two meets it.
    """
    if low == high or not low <= required <= high:
        return None
    return RATIO_DOWN.divide(difference(required, low), difference(high, low))
