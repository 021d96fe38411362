"""What a declaration is made from: amounts of substances in the finished product."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from formulas.rules.interval import Interval
from formulas.rules.vocabulary import LEAVE_ON, PRODUCT_KINDS


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one ingredient brings. label: its lot, or its formula line. percent: of the finished product.

    basis: how its composition is known (read / supplier / confirmed / memory). rank: its place in the order that
    the supplier of this ingredient gives, where all of it stays in the product.
    """

    ingredient: str
    label: str
    percent: Interval
    basis: str = ""
    rank: int | None = None


@dataclass(frozen=True, slots=True)
class DeclaredAmount:
    """One substance in the finished product, as one declaration needs it; figures in % of the product.

    low, typical, high: None is not known, never 0. within: part of a declared substance (an allergen of an
    oil), so not a name of its own. is_perfume, is_flavour, is_colourant: what it is used for here; the same
    substance used in two ways stands twice. incidental: needs no listing, for ``incidental_reason``, which
    is asked for. basis, us_name_basis: how the names are known.
    """

    substance: str
    eu_name: str
    us_name: str = ""
    cas: str = ""
    low: Decimal | None = None
    typical: Decimal | None = None
    high: Decimal | None = None
    is_colourant: bool = False
    is_perfume: bool = False
    is_flavour: bool = False
    within: bool = False
    nano: bool = False
    incidental: bool = False
    incidental_reason: str = ""
    contributions: tuple[Contribution, ...] = ()
    basis: str = ""
    us_name_basis: str = ""

    @property
    def percent(self) -> Interval:
        """The figures as an interval. Raises ValueError when low is above high."""
        return Interval(self.low, self.high, self.typical)


@dataclass(frozen=True, slots=True)
class UnknownPart:
    """A part of the product of which it is not known what it is. percent: may itself be unknown."""

    ingredient: str
    label: str
    percent: Interval
    reason: str


@dataclass(frozen=True, slots=True)
class ScentedMaterial:
    """A perfume, essential oil or flavour in the product. allergens_stated: its supplier lists what is within."""

    ingredient: str
    label: str
    percent: Interval
    allergens_stated: bool


@dataclass(frozen=True, slots=True)
class ProductAmounts:
    """All that a declaration needs. product_kind: leave-on or rinse-off, else ValueError.

    first_supply: when the packs are first placed on the market; None counts as today's rules.
    """

    amounts: tuple[DeclaredAmount, ...]
    product_kind: str = LEAVE_ON
    unknown_parts: tuple[UnknownPart, ...] = ()
    scented: tuple[ScentedMaterial, ...] = ()
    first_supply: date | None = None

    def __post_init__(self) -> None:
        if self.product_kind not in PRODUCT_KINDS:
            raise ValueError(f"a product is {' or '.join(PRODUCT_KINDS)}, not {self.product_kind!r}")
