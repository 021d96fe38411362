"""Arithmetic of what comes in: freight shared over lines, lot numbers compared."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_DOWN, Context, Decimal, DivisionByZero, InvalidOperation, Overflow

MONEY_STEP = Decimal("0.0001")
"""Money is kept to 4 places, the finest share of a freight."""

_WIDE = Context(prec=60, traps=[InvalidOperation, DivisionByZero, Overflow])


def share_by_value(freight: Decimal, costs: Sequence[Decimal]) -> list[Decimal]:
    """``freight`` shared over lines in proportion to their cost, in the same order, adding up exactly.

    Shares are whole multiples of ``MONEY_STEP`` below the exact one; what is left goes to the costliest line
    (the earlier of two). Where every line was free, the shares are equal. Raises ValueError for no line, or
    for a cost below 0.
    """
    if not costs or any(cost < 0 for cost in costs):
        raise ValueError("freight is shared over at least one line, each with a cost of 0 or more")
    whole = sum(costs, start=Decimal(0))
    weights = list(costs) if whole else [Decimal(1)] * len(costs)
    total = whole or Decimal(len(costs))
    shares = [
        _WIDE.divide(_WIDE.multiply(freight, weight), total).quantize(
            MONEY_STEP, rounding=ROUND_DOWN, context=_WIDE
        )
        for weight in weights
    ]
    costliest = max(range(len(weights)), key=lambda place: (weights[place], -place))
    shares[costliest] += freight - sum(shares, start=Decimal(0))
    return shares


def bare_lot_number(text: str) -> str:
    """A supplier's lot number as it is compared: upper case, no blanks, no leading "lot" or "batch"."""
    bare = "".join(text.split()).upper()
    for word in ("LOTNO.", "LOT:", "LOT", "BATCH:", "BATCH"):
        if bare.startswith(word) and len(bare) > len(word):
            return bare[len(word) :].lstrip(":.#")
    return bare


def names_another_lot(on_certificate: str, supplier_lot: str) -> bool:
    """Whether a certificate speaks of another lot than the one at hand; an empty number says nothing."""
    certificate, lot = bare_lot_number(on_certificate), bare_lot_number(supplier_lot)
    return bool(certificate and lot) and certificate != lot
