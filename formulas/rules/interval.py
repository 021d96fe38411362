"""A share that may be known only within limits."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from formulas.rules.number import HUNDRED, ZERO, exact_product, exact_sum, percent_of


@dataclass(frozen=True, slots=True)
class Interval:
    """Percent between two ends; an end that is None is not known (never 0). Raises ValueError if crossed."""

    low: Decimal | None
    high: Decimal | None
    typical: Decimal | None = None

    def __post_init__(self) -> None:
        if self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError(f"{self.low} is above {self.high}")

    @classmethod
    def point(cls, value: Decimal) -> Interval:
        """A share known to be one figure."""
        return cls(value, value, value)

    @property
    def is_point(self) -> bool:
        """Both ends are the same figure."""
        return self.low is not None and self.low == self.high

    @property
    def is_known(self) -> bool:
        """Both ends are known."""
        return self.low is not None and self.high is not None

    @property
    def expected(self) -> Decimal | None:
        """The typical figure, else the middle; None where an end is unknown and none is typical."""
        if self.typical is not None:
            return self.typical
        if self.low is None or self.high is None:
            return None
        return percent_of(Decimal(50), exact_sum((self.low, self.high)))

    def of(self, percent: Interval) -> Interval:
        """This share of something that is itself ``percent`` of the whole."""
        return Interval(
            _share(self.low, percent.low),
            _share(self.high, percent.high),
            _share(self.typical, percent.typical),
        )

    def times(self, ratio: Decimal) -> Interval:
        """Both ends times a figure >= 0, 0.8475 g acid per g salt say."""
        percent = exact_product(ratio, HUNDRED)
        return self.of(Interval.point(percent))


NOTHING = Interval.point(ZERO)


def add(intervals: Iterable[Interval]) -> Interval:
    """The sum. Unknown lower ends add nothing to what is there at least; an unknown upper end stays so."""
    parts = tuple(intervals)
    lows = [part.low for part in parts if part.low is not None]
    highs = [part.high for part in parts if part.high is not None]
    typicals = [part.typical for part in parts if part.typical is not None]
    return Interval(
        exact_sum(lows) if lows or not parts else None,
        exact_sum(highs) if len(highs) == len(parts) else None,
        exact_sum(typicals) if len(typicals) == len(parts) else None,
    )


def _share(share: Decimal | None, percent: Decimal | None) -> Decimal | None:
    return None if share is None or percent is None else percent_of(share, percent)
