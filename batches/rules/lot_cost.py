"""What the lots in a pot cost, through lots made in-house and rework to any depth. Unknown is never free.

Money is exact (fractions) until it is shown. Work, overhead and loss in value are no part of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

NOTHING = Fraction(0)


@dataclass(frozen=True, slots=True)
class Bought:
    """A lot that came with an invoice, or without one. quantity: g or pieces that came, above 0.

    cost: of the whole lot in its currency, None where nobody wrote it down. rate: what one unit of that currency
    was worth in the maker's own on the day it came; 1 for the maker's own, None where no rate is on record.
    """

    lot: str
    quantity: Decimal
    cost: Decimal | None
    currency: str = ""
    rate: Decimal | None = Decimal(1)


@dataclass(frozen=True, slots=True)
class Made:
    """A lot that a batch made, as stock or as rework."""

    lot: str
    batch: str


@dataclass(frozen=True, slots=True)
class Went:
    """How much of a lot went into a batch, in the lot's unit."""

    lot: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Pot:
    """A batch as its cost asks for it. obtained_g: bulk obtained, None while it isn't known."""

    batch: str
    went: tuple[Went, ...]
    obtained_g: Decimal | None


@dataclass(frozen=True, slots=True)
class LotPrice:
    """What a gram or a piece of a lot cost. each: None where unknown. at_least: what its known parts make.

    missing: codes of the lots behind it that have no cost or no rate; empty exactly where ``each`` is known.
    """

    each: Fraction | None
    at_least: Fraction
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Share:
    """What one lot brings to the cost of a batch, in the maker's currency."""

    lot: str
    amount: Decimal
    price: LotPrice

    @property
    def cost(self) -> Fraction | None:
        """Its cost, None where unknown."""
        return None if self.price.each is None else self.price.each * Fraction(self.amount)

    @property
    def at_least(self) -> Fraction:
        """The part of it that is known."""
        return self.price.at_least * Fraction(self.amount)


@dataclass(frozen=True, slots=True)
class PotCost:
    """What went into a batch, in money. at_least equals the whole exactly where nothing is missing."""

    shares: tuple[Share, ...]
    at_least: Fraction
    missing: tuple[str, ...]

    @property
    def is_complete(self) -> bool:
        """Every lot in it has a cost."""
        return not self.missing


def pot_cost(pot: str, pots: Mapping[str, Pot], lots: Mapping[str, Bought | Made]) -> PotCost:
    """The cost of a batch. pots, lots: by code, with everything behind the batch.

    A lot made here costs by the gram what its batch cost by the gram of bulk obtained, so that what was lost or
    strained out on the way is borne by what came of it. Raises ValueError when a batch would hold itself.
    """
    return _cost(pot, pots, lots, {}, ())


def per_pack(whole: Fraction, obtained_g: Decimal, rework_g: Decimal, packs: int) -> Fraction:
    """What a pack bears: the batch without the bulk set aside, shared by the packs; samples and losses included.

    Raises ValueError unless there are packs and bulk, and no more was set aside than was obtained.
    """
    if packs <= 0 or obtained_g <= 0 or not 0 <= rework_g <= obtained_g:
        raise ValueError("packs and bulk are above 0, and no more is set aside than was obtained")
    return whole * (1 - Fraction(rework_g) / Fraction(obtained_g)) / packs


def _cost(
    pot: str,
    pots: Mapping[str, Pot],
    lots: Mapping[str, Bought | Made],
    known: dict[str, PotCost],
    path: tuple[str, ...],
) -> PotCost:
    if pot in path:
        raise ValueError(" → ".join((*path, pot)))
    if pot not in known:
        shares = [
            Share(went.lot, went.amount, _price(lots[went.lot], pots, lots, known, (*path, pot)))
            for went in pots[pot].went
        ]
        missing = dict.fromkeys(code for share in shares for code in share.price.missing)
        total = sum((share.at_least for share in shares), NOTHING)
        known[pot] = PotCost(tuple(shares), total, tuple(missing))
    return known[pot]


def _price(
    lot: Bought | Made,
    pots: Mapping[str, Pot],
    lots: Mapping[str, Bought | Made],
    known: dict[str, PotCost],
    path: tuple[str, ...],
) -> LotPrice:
    if isinstance(lot, Bought):
        if lot.cost is None or lot.rate is None:
            return LotPrice(None, NOTHING, (lot.lot,))
        each = Fraction(lot.cost) * Fraction(lot.rate) / Fraction(lot.quantity)
        return LotPrice(each, each)
    cost, obtained = _cost(lot.batch, pots, lots, known, path), pots[lot.batch].obtained_g
    if not obtained:
        return LotPrice(None, NOTHING, (lot.lot,))
    each = cost.at_least / Fraction(obtained)
    return LotPrice(each if cost.is_complete else None, each, cost.missing)
