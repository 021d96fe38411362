"""What an infusion holds after part of it is strained out: limits, because nobody weighs what the herb keeps.

How much liquid stays in the herb, and how much of the herb goes into solution, is not known. The liquid that stays
in the herb is taken to be the same mixture as the liquid that runs off; then it changes no share. Bounds follow
from conserved mass alone (no outside source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from formulas.rules.interval import Interval
from formulas.rules.number import HUNDRED, RATIO_UP, ZERO, difference, exact_sum
from formulas.rules.percent import ResolvedLine


@dataclass(frozen=True, slots=True)
class Left:
    """A line with its share of what is left once strained lines are out. share: None where the line says none."""

    line: ResolvedLine
    share: Interval | None


def what_is_left(lines: Sequence[ResolvedLine]) -> tuple[Left, ...] | None:
    """All lines with their shares of the finished thing; as written where nothing is strained out.

    None where everything is strained out, or may be. Adjust lines count with the most they may take.
    """
    shares = [line.share for line in lines if line.strained]
    if not shares:
        return tuple(Left(line, line.share) for line in lines)
    highs = [None if share is None else share.high for share in shares]
    out = HUNDRED if None in highs else exact_sum(high for high in highs if high is not None)
    if out >= HUNDRED:
        return None
    return tuple(Left(line, None if line.share is None else _share(line, line.share, out)) for line in lines)


def _share(line: ResolvedLine, share: Interval, out: Decimal) -> Interval | None:
    return strained_share(share, out) if line.strained else kept_share(share, out)


def kept_share(share: Interval, strained: Decimal) -> Interval | None:
    """Percent of what is left that a line makes which stays in; None when nothing is left.

    share: its percent of what went in. strained: percent strained out. Least when all of that dissolves, most
    when nothing of it does.
    """
    left = difference(HUNDRED, strained)
    if left <= ZERO:
        return None
    if strained == ZERO:
        return share
    return Interval(
        share.low, None if share.high is None else _up(Fraction(share.high) * 100 / Fraction(left))
    )


def strained_share(share: Interval, strained: Decimal) -> Interval | None:
    """Percent of what is left that a line makes which was strained out, from nothing on; None when nothing is left.

    What dissolves is selective: a substance may go over whole while the rest of its herb stays behind. So the upper
    end leaves the weight of what dissolved out of the whole, and stays true for each constituent times its share.
    """
    left = difference(HUNDRED, strained)
    if left <= ZERO:
        return None
    return Interval(ZERO, None if share.high is None else _up(Fraction(share.high) * 100 / Fraction(left)))


def _up(value: Fraction) -> Decimal:
    """Rounded up in its last digit, so that the limit is never too low."""
    return RATIO_UP.divide(Decimal(value.numerator), Decimal(value.denominator))
