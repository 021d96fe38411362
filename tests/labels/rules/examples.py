"""Short ways to write amounts down in tests of the labels' rules."""

from __future__ import annotations

from decimal import Decimal

from formulas.rules.composition import substance_key
from formulas.rules.interval import Interval
from formulas.rules.vocabulary import LEAVE_ON
from labels.rules.amounts import Contribution, DeclaredAmount, ProductAmounts


def amount(
    name: str,
    percent: str | None = None,
    *,
    span: tuple[str | None, str | None] | None = None,
    **facts: object,
) -> DeclaredAmount:
    """A substance at one share, or between two ends; other fields by name."""
    low, high = (percent, percent) if span is None else span
    one = DeclaredAmount(
        substance=substance_key(name),
        eu_name=name,
        low=None if low is None else Decimal(low),
        typical=None if percent is None else Decimal(percent),
        high=None if high is None else Decimal(high),
        **facts,  # type: ignore[arg-type]  # fields of the dataclass, by name
    )
    if one.contributions:
        return one
    brought = Contribution(f"{name} as bought", "L-1", one.percent)
    return DeclaredAmount(
        **{field: getattr(one, field) for field in one.__slots__ if field != "contributions"},
        contributions=(brought,),
    )


def product(*amounts: DeclaredAmount, kind: str = LEAVE_ON, **more: object) -> ProductAmounts:
    """A product of these amounts."""
    return ProductAmounts(amounts, product_kind=kind, **more)  # type: ignore[arg-type]  # fields by name


def point(percent: str) -> Interval:
    """A share known to the last digit."""
    return Interval.point(Decimal(percent))
