"""What a scale can weigh: the error of a weighing, and the least that is worth weighing on it.

USP <41>: repeatability passes if 2 x s / smallest net weight <= 0.10 %, with s not below 0.41 d; so the least
is 2000 s, never below 820 d. For other than pharmacopoeial work another tolerance r gives 2 s / r.
Source: text of USP <41> as read at ppmu.ouryao.com/thread-701175-1-1.html; 0.41 d is sqrt(2) x d/sqrt(12).
"""

from __future__ import annotations

from decimal import Decimal

from formulas.rules.number import HUNDRED, RATIO_UP, exact_product

PHARMACOPOEIAL = Decimal("0.10")
"""% error of a weighing that USP <41> calls accurate."""
FLOOR = Decimal("0.41")
"""The least standard deviation of a weighing, in steps of the scale."""


def deviation(readability_g: Decimal, repeatability_g: Decimal | None) -> Decimal:
    """The standard deviation of a weighing, g: the scale's own, not below 0.41 of its step."""
    floor = exact_product(FLOOR, readability_g)
    return floor if repeatability_g is None else max(floor, repeatability_g)


def percent_error(deviation_g: Decimal, net_g: Decimal) -> Decimal:
    """Twice the standard deviation as percent of what is weighed, rounded up. Net weight above 0."""
    return RATIO_UP.divide(exact_product(Decimal(2), deviation_g, HUNDRED), net_g)


def least_weight(deviation_g: Decimal, percent: Decimal = PHARMACOPOEIAL) -> Decimal:
    """The least net weight, g, that keeps within an error of so many percent."""
    return RATIO_UP.divide(exact_product(Decimal(2), deviation_g, HUNDRED), percent)


def least_batch(deviation_g: Decimal, share: Decimal, percent: Decimal) -> Decimal:
    """The least batch, g, in which a line of so many percent (above 0) keeps within an error of ``percent`` %."""
    return RATIO_UP.divide(exact_product(least_weight(deviation_g, percent), HUNDRED), share)
