"""How much of a thing a limit leaves room for: always rounded down, and never to nothing."""

from __future__ import annotations

from decimal import Decimal

from formulas.rules.number import HUNDRED, RATIO_DOWN, ZERO, exact_product, figure, round_down


def most_that_passes(limit: Decimal, amount: Decimal, line_percent: Decimal, *, digits: int = 3) -> Decimal:
    """The most of a line, %, at which the amount it brings is not above the limit; 100 at most.

    amount: what the line brings now, %, at ``line_percent``. Rounded down to two places, or to as many as it
    takes for ``digits`` figures that say something: it is 0 only where the limit is.
    """
    if amount <= ZERO:
        return HUNDRED
    most = RATIO_DOWN.divide(exact_product(limit, line_percent), amount)
    return min(HUNDRED, round_down(most, max(2, digits - 1 - most.adjusted()) if most else 2))


def in_full(value: Decimal) -> str:
    """A figure that is rounded already, with every place it has."""
    return figure(value, up=False, places=60)
