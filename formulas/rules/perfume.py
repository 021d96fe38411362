"""Essential oils: what is remembered of their most on the skin, and the sum of those that burn in the sun.

data/essential_oil_limits.csv; an oil without a figure is not free of one: the supplier's certificate has it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from formulas.rules.number import ONE, ZERO, exact_product, exact_sum
from formulas.rules.tables import DATA
from makers.rules.tables import read_rows

ALLERGEN_OVER = {"leave-on": Decimal("0.001"), "rinse-off": Decimal("0.01")}
"""% of the product above which a listed perfume allergen is named; Reg (EC) 1223/2009, Annex III."""


@dataclass(frozen=True, slots=True)
class OilLimit:
    """Most % of an essential oil in what stays on the skin; None: follow the supplier's certificate.

    phototoxic_max: most % of a leave-on product, alone, for an oil that burns in the sun; None for others.
    """

    substance: str
    name: str
    common_name: str
    dermal_max: Decimal | None
    phototoxic_max: Decimal | None
    source: str
    basis: str


@cache
def oil_limits() -> Mapping[str, OilLimit]:
    """The rows by substance key."""
    return {row.substance: row for row in read_rows(DATA / "essential_oil_limits.csv", OilLimit)}


def exceeds_one(shares: Iterable[tuple[Decimal, Decimal]]) -> bool:
    """Whether the sum of (share / limit) is above 1, cross-multiplied: not a digit is lost. Limits above 0."""
    pairs = tuple(shares)
    bottom = exact_product(*(limit for _, limit in pairs)) if pairs else ONE
    tops = []
    for at, (share, _) in enumerate(pairs):
        others = [limit for index, (_, limit) in enumerate(pairs) if index != at]
        tops.append(exact_product(share, *others))
    return (exact_sum(tops) if tops else ZERO) > bottom
