"""What an infusion holds after part of it is strained out: limits, because nobody weighs what the herb keeps.

How much liquid stays in the herb, and how much of the herb goes into solution, is not known. The liquid that stays
in the herb is taken to be the same mixture as the liquid that runs off; then it changes no share. Bounds follow
from conserved mass alone (no outside source).

Of 20 parts herb in 80 parts oil: all of the herb dissolves at most, and makes 20 of 100. What dissolves is
selective, though: a substance may go over whole while the rest of its herb stays behind. One that is 1 % of the herb
makes 0.2 of 80.2 parts at most, 0.2494 %, which is more than 1 % of 20 %. So how much a part of what was strained
out makes is no fixed share of the whole of it; a Way says how much it is for each part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from formulas.rules.interval import Interval
from formulas.rules.number import HUNDRED, RATIO_UP, ZERO, difference, exact_sum
from formulas.rules.percent import ResolvedLine

WHOLE = Interval.point(HUNDRED)


@dataclass(frozen=True, slots=True)
class Way:
    """How much of the product an ingredient and its parts make, with what was strained out on the way.

    straight: % of the product for all of it, if a larger part diluted what is left no more than a small one.
    slope: the same at the upper end as a ratio, exact where ``straight`` is rounded; None where it isn't rounded.
    bend: how much more all of it makes of what is left than a vanishing part does, as a ratio. A part of x, from 0 to
    1, makes slope * x / (1 + bend * x) at most. Nothing strained: bend 0.
    """

    straight: Interval
    slope: Fraction | None = None
    bend: Fraction = Fraction(0)

    @property
    def whole(self) -> Interval:
        """% of the product that the ingredient as such makes."""
        return self.straight if self.slope is None else self.of(WHOLE)

    def of(self, share: Interval) -> Interval:
        """% of the product that a part makes which is so much of the ingredient, in percent of it."""
        found = share.of(self.straight)
        if self.slope is None or share.high is None:
            return found
        part = Fraction(share.high) / 100
        return Interval(found.low, _up(100 * self.slope * part / (1 + self.bend * part)), found.typical)

    def then(self, inner: Way) -> Way:
        """The way on, into what the ingredient is made from."""
        straight = inner.straight.of(self.straight)
        if self.slope is None and inner.slope is None:
            return Way(straight)
        outer, own = _slope(self), _slope(inner)
        if outer is None or own is None:
            return Way(straight, None, inner.bend)
        return Way(straight, outer * own, inner.bend + self.bend * own)


@dataclass(frozen=True, slots=True)
class Left:
    """A line with its way into what is left once strained lines are out. way: None where the line has no share."""

    line: ResolvedLine
    way: Way | None


def what_is_left(lines: Sequence[ResolvedLine]) -> tuple[Left, ...] | None:
    """All lines with their ways into the finished thing; as written where nothing is strained out.

    None where everything is strained out, or may be. Adjust lines count with the most they may take.
    """
    shares = [line.share for line in lines if line.strained]
    if not shares:
        return tuple(Left(line, None if line.share is None else Way(line.share)) for line in lines)
    highs = [None if share is None else share.high for share in shares]
    out = HUNDRED if None in highs else exact_sum(high for high in highs if high is not None)
    if out >= HUNDRED:
        return None
    return tuple(Left(line, None if line.share is None else _way(line, line.share, out)) for line in lines)


def _way(line: ResolvedLine, share: Interval, out: Decimal) -> Way | None:
    return strained_way(share, out) if line.strained else kept_way(share, out)


def kept_way(share: Interval, strained: Decimal) -> Way | None:
    """How much of what is left a line makes which stays in; None when nothing is left.

    share: its percent of what went in. strained: percent strained out. Least when all of that dissolves, most
    when nothing of it does.
    """
    left = difference(HUNDRED, strained)
    if left <= ZERO:
        return None
    if strained == ZERO:
        return Way(share)
    if share.high is None:
        return Way(Interval(share.low, None))
    slope = Fraction(share.high) / Fraction(left)
    return Way(Interval(share.low, _up(slope * 100)), slope)


def strained_way(share: Interval, strained: Decimal) -> Way | None:
    """How much of what is left a line makes which was strained out, from nothing on; None when nothing is left.

    Most when it dissolves whole and nothing else of what was strained out does; of a substance in it, when that
    alone dissolves.
    """
    left = difference(HUNDRED, strained)
    if left <= ZERO:
        return None
    if share.high is None:
        return Way(Interval(ZERO, None))
    slope = Fraction(share.high) / Fraction(left)
    return Way(Interval(ZERO, _up(slope * 100)), slope, slope)


def _slope(way: Way) -> Fraction | None:
    if way.slope is not None or way.straight.high is None:
        return way.slope
    return Fraction(way.straight.high) / 100


def _up(value: Fraction) -> Decimal:
    """Rounded up in its last digit, so that the limit is never too low."""
    return RATIO_UP.divide(Decimal(value.numerator), Decimal(value.denominator))
