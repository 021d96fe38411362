"""What ingredients and articles cost per gram and per piece: dated prices, exchange rates, nested formulas.

Amounts are exact ratios until they are shown: a pack of 3 g for 1 EUR costs a third of a EUR per gram, and three
of these are 1 EUR again. Nothing here reads a clock: the caller brings the prices in force on a day. What has no
price is unknown and named, never 0.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import ROUND_HALF_EVEN, Context, Decimal, DivisionByZero, InvalidOperation, Overflow
from fractions import Fraction
from typing import Literal

from formulas.rules.number import figure
from formulas.rules.percent import ResolvedFormula
from makers.rules.display import day_fact, in_a_row, money

Measure = Literal["g", "piece"]

NOTHING = Fraction(0)
WHOLE = Fraction(100)
SHOWN = Context(prec=50, rounding=ROUND_HALF_EVEN, traps=[InvalidOperation, DivisionByZero, Overflow])
"""For a ratio that has to be written as a Decimal; comparisons and sums go by the ratio itself."""


def as_decimal(ratio: Fraction) -> Decimal:
    """The ratio as a Decimal: exact where it ends within 50 digits, else rounded there."""
    return SHOWN.divide(Decimal(ratio.numerator), Decimal(ratio.denominator))


@dataclass(frozen=True, slots=True)
class Rate:
    """What one unit of a foreign currency was worth in the maker's own, from a day on."""

    on: date
    worth: Decimal
    source: str = ""


@dataclass(frozen=True, slots=True)
class Paid:
    """A price on record: ``amount`` of ``currency`` for ``quantity`` g or pieces. seller: "" where not said.

    rate: the one in force on the day of the price; None where none is on record or none is needed.
    """

    on: date
    amount: Decimal
    currency: str
    quantity: Decimal
    seller: str = ""
    rate: Rate | None = None


@dataclass(frozen=True, slots=True)
class Inner:
    """One line of the formula that an in-house ingredient is made from. percent: of what goes in."""

    name: str
    percent: Decimal | None
    price: UnitPrice


@dataclass(frozen=True, slots=True)
class UnitPrice:
    """What a gram or a piece costs in the maker's currency.

    exact: None where it is not known. at_least: what the known parts make; equals ``exact`` where that is known.
    why: the source, price and rate, or why it is unknown. missing: what has no price. cure: what to do.
    foreign: the currency whose rate is missing. key: of the ingredient or article. inner: the lines of an in-house
    ingredient.
    """

    exact: Fraction | None
    why: str
    at_least: Fraction = NOTHING
    missing: tuple[str, ...] = ()
    cure: str = ""
    foreign: str = ""
    key: str = ""
    inner: tuple[Inner, ...] = field(default=(), compare=False)

    @property
    def amount(self) -> Decimal | None:
        """The maker's currency per gram or piece; None where it is not known."""
        return None if self.exact is None else as_decimal(self.exact)

    @property
    def is_complete(self) -> bool:
        """Nothing in it is unknown."""
        return self.exact is not None


PricePerGram = UnitPrice


def paid_price(name: str, paid: Paid | None, own: str, measure: Measure = "g", *, key: str = "") -> UnitPrice:
    """What a bought ingredient or article costs per gram or piece, in the maker's currency ``own``."""
    if paid is None:
        said = f"{name} has no price yet."
        return UnitPrice(None, said, missing=(name,), cure="Write down a price.", key=key)
    count = figure(paid.quantity)
    size = f"{count} g" if measure == "g" else f"{count} {'piece' if paid.quantity == 1 else 'pieces'}"
    seller = f" from {paid.seller}" if paid.seller else ""
    said = f"{money(paid.amount, paid.currency, exact=True)} for {size}{seller}, since {day_fact(paid.on)}"
    each = Fraction(paid.amount) / Fraction(paid.quantity)
    if paid.currency == own:
        return UnitPrice(each, f"{said}.", at_least=each, key=key)
    if paid.rate is None:
        return UnitPrice(
            None,
            f"{said}; no rate of {paid.currency} is on record for that day.",
            missing=(name,),
            cure=f"Record what 1 {paid.currency} was worth on {day_fact(paid.on)} or before.",
            foreign=paid.currency,
            key=key,
        )
    each *= Fraction(paid.rate.worth)
    source = f" ({paid.rate.source})" if paid.rate.source else ""
    worth = f"1 {paid.currency} = {figure(paid.rate.worth, places=6)} {own}"
    return UnitPrice(each, f"{said}, at {worth} of {day_fact(paid.rate.on)}{source}.", at_least=each, key=key)


@dataclass(frozen=True, slots=True)
class Recipe:
    """A formula as its cost is reckoned. title: the version in words. strained: keys of lines that are taken out."""

    title: str
    formula: ResolvedFormula
    strained: frozenset[str] = frozenset()

    @property
    def out(self) -> Fraction | None:
        """Percent of what goes in that is left after straining, at most; None when nothing can be left."""
        taken = sum(
            (Fraction(line.percent or 0) for line in self.formula.lines if line.key in self.strained), NOTHING
        )
        return WHOLE - taken if taken < WHOLE else None


@dataclass(frozen=True, slots=True)
class Take:
    """What a formula takes of one ingredient, as percent of what comes out of it; None when not said."""

    ingredient: str
    name: str
    written: Decimal | None
    percent: Fraction | None
    why: str = ""


def takes(recipe: Recipe) -> list[Take]:
    """What each line takes per 100 parts that come out. An adjust line counts with the most it may take."""
    out = recipe.out
    found = []
    for line in recipe.formula.lines:
        written = None if line.share is None else line.share.high
        percent = None if written is None or out is None else Fraction(written) * WHOLE / out
        why = "added as needed; reckoned with the most" if line.kind == "adjust" else ""
        if line.key in recipe.strained:
            why = "strained out; paid for all the same"
        found.append(Take(line.ingredient, line.name, written, percent, why))
    return found


def made_price(name: str, recipe: Recipe | None, prices: Mapping[str, UnitPrice]) -> UnitPrice:
    """What a gram of an in-house ingredient costs by its formula. prices: per gram, by ingredient key.

    Work and loss in making it are not in it: the minutes of the products carry them.
    """
    if recipe is None:
        return UnitPrice(
            None,
            f"{name} is made in-house, but its formula has no version to reckon by.",
            missing=(name,),
            cure="Write a version of its formula.",
        )
    total = NOTHING
    inner: list[Inner] = []
    missing: list[str] = []
    for take in takes(recipe):
        price = prices.get(take.ingredient) or paid_price(take.name, None, "")
        inner.append(Inner(take.name, take.written, price))
        missing += price.missing
        if take.percent is None:
            missing.append(f"the share of {take.name}")
        else:
            total += take.percent * price.at_least / WHOLE
    if not recipe.formula.is_complete:
        missing.append(f"the rest of {recipe.title}")
    gaps = tuple(dict.fromkeys(missing))
    left = recipe.out if recipe.strained else None
    strained = "" if left is None else f"; {figure(as_decimal(left))} % of it is left after straining"
    said = f"Reckoned through {recipe.title}, made in-house{strained}."
    if gaps:
        said = f"{said} Not known: {in_a_row(gaps)}."
    return UnitPrice(
        None if gaps else total,
        said,
        at_least=total,
        missing=gaps,
        cure="Write down what is missing." if gaps else "",
        inner=tuple(inner),
    )


def prices_through(
    wanted: Sequence[str],
    bought: Mapping[str, UnitPrice],
    made: Mapping[str, tuple[str, Recipe | None]],
    raised: Mapping[str, Fraction] | None = None,
) -> dict[str, UnitPrice]:
    """Prices per gram of the ``wanted`` ingredients, in-house ones through their formulas to any depth.

    bought: by ingredient key. made: name and formula of in-house ones. raised: percent by which a bought
    ingredient is reckoned dearer. A formula that contains itself is unknown, not endless.
    """
    known: dict[str, UnitPrice] = {
        key: dearer(price, (raised or {}).get(key, NOTHING)) for key, price in bought.items()
    }
    open_now: set[str] = set()

    def price_of(key: str) -> UnitPrice | None:
        if key in known or key not in made:
            return known.get(key)
        name, recipe = made[key]
        if key in open_now:
            return UnitPrice(None, f"{name} contains itself.", missing=(name,))
        open_now.add(key)
        lines = recipe.formula.lines if recipe else ()
        inner = {line.ingredient: price_of(line.ingredient) for line in lines}
        open_now.discard(key)
        known[key] = made_price(name, recipe, {key: one for key, one in inner.items() if one is not None})
        return known[key]

    return {key: found for key in wanted if (found := price_of(key)) is not None}


def dearer(price: UnitPrice, percent: Fraction) -> UnitPrice:
    """The price raised by ``percent`` (below 0: lowered)."""
    if not percent:
        return price
    times = (WHOLE + percent) / WHOLE
    exact = None if price.exact is None else price.exact * times
    shown = figure(abs(as_decimal(percent)))
    words = f"{price.why.rstrip('.')}, {shown} % {'dearer' if percent > 0 else 'cheaper'}."
    return replace(price, exact=exact, why=words, at_least=price.at_least * times)
