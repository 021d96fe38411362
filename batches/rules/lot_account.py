"""A lot's account: what came in, where it went, what is left.

``book = in - used - sampled - wasted - sent back``; ``difference = counted - book``;
``accounted % = (all that went out with a reason + what is here) / in x 100``. Derived from 21 CFR 211.184(c),
which wants the use of each lot reconciled.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Context, Decimal, DivisionByZero, InvalidOperation, Overflow

CAME_IN = frozenset({"received", "made", "opening"})
USED = frozenset({"weighed", "packed"})
HUNDRED = Decimal(100)
_WIDE = Context(prec=60, traps=[InvalidOperation, DivisionByZero, Overflow])


@dataclass(frozen=True, slots=True)
class Move:
    """One ledger line. kind: what it is; for a line that takes another back, the kind of that other."""

    kind: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Account:
    """The sums of a ledger, all 0 or more but ``counted`` (what counts added) and ``here``."""

    came_in: Decimal
    used: Decimal
    sampled: Decimal
    wasted: Decimal
    sent_back: Decimal
    counted: Decimal
    here: Decimal

    @property
    def accounted_percent(self) -> Decimal | None:
        """Share of what came in that is here or went out with a reason; None when nothing came in."""
        if self.came_in <= 0:
            return None
        known = self.used + self.sampled + self.wasted + self.sent_back + self.here
        return _WIDE.divide(_WIDE.multiply(known, HUNDRED), self.came_in)


def account(moves: Iterable[Move]) -> Account:
    """Add up a ledger. A line taken back is netted within its kind."""
    sums: dict[str, Decimal] = {}
    for move in moves:
        sums[move.kind] = sums.get(move.kind, Decimal(0)) + move.amount

    def out(*kinds: str) -> Decimal:
        return -sum((sums.get(kind, Decimal(0)) for kind in kinds), start=Decimal(0)) + Decimal(0)

    return Account(
        came_in=sum((sums.get(kind, Decimal(0)) for kind in CAME_IN), start=Decimal(0)),
        used=out(*USED),
        sampled=out("sampled"),
        wasted=out("wasted"),
        sent_back=out("returned"),
        counted=sums.get("counted", Decimal(0)),
        here=sum(sums.values(), start=Decimal(0)),
    )
