"""What a unit of a product costs, line by line, and what its price has to be.

An estimate goes by the prices that it is given: today's, those of an earlier day, or dearer ones to see what would
happen. A batch that was made could hand in the prices of the lots it used, with nothing else changed.

Margin and markup are two readings of one price (common practice, no source): margin is what is left of the price as
percent of the price, markup is what is added to the cost as percent of the cost. 50 % margin is 100 % markup.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from formulas.rules.cost import NOTHING, WHOLE, Recipe, UnitPrice, as_decimal, paid_price, takes
from formulas.rules.number import figure
from makers.rules.display import money

MINUTES = Fraction(60)

GapKind = Literal["ingredient", "article", "rate", "making", "basis", "formula"]


@dataclass(frozen=True, slots=True)
class Part:
    """An article that each unit takes, and how many of it."""

    key: str
    name: str
    count: int
    price: UnitPrice


@dataclass(frozen=True, slots=True)
class Making:
    """What is on record about making a product; None where it is not written down.

    fill_g: what a unit is filled with, g. loss: percent of what goes in that never reaches a unit. batch_units and
    batch_minutes: of a usual batch. labour_per_hour: in the maker's ``currency``. overhead: percent on everything else.
    """

    fill_g: Decimal
    loss: Decimal | None = None
    batch_units: int | None = None
    batch_minutes: Decimal | None = None
    labour_per_hour: Decimal | None = None
    overhead: Decimal | None = None
    currency: str = ""


@dataclass(frozen=True, slots=True)
class Gap:
    """Something that keeps an estimate from being complete, what to do, and about what (key by kind)."""

    kind: GapKind
    key: str
    text: str
    cure: str


@dataclass(frozen=True, slots=True)
class Amount:
    """Money of one unit. exact: None where unknown; at_least: what is known of it; why: how it is reckoned."""

    exact: Fraction | None
    at_least: Fraction
    why: str = ""

    @property
    def amount(self) -> Decimal | None:
        """The figure; None where it is not known."""
        return None if self.exact is None else as_decimal(self.exact)

    @property
    def least(self) -> Decimal:
        """What is known of it."""
        return as_decimal(self.at_least)


@dataclass(frozen=True, slots=True)
class MaterialCost:
    """One line of the formula in one unit. grams: that go in for it; None when the line says no share."""

    ingredient: str
    name: str
    percent: Decimal | None
    grams: Fraction | None
    price: UnitPrice
    cost: Amount

    @property
    def shown_grams(self) -> Decimal | None:
        """The grams as a Decimal."""
        return None if self.grams is None else as_decimal(self.grams)

    @property
    def per_kg(self) -> Decimal | None:
        """Price of a kilogram in the maker's currency."""
        return None if self.price.exact is None else as_decimal(self.price.exact * 1000)


@dataclass(frozen=True, slots=True)
class PartCost:
    """What an article adds to one unit."""

    part: Part
    cost: Amount


@dataclass(frozen=True, slots=True)
class Estimate:
    """The cost of one unit. ``total.exact`` is None while a gap is open; ``total.at_least`` is there always."""

    materials: tuple[MaterialCost, ...]
    parts: tuple[PartCost, ...]
    materials_sum: Amount
    parts_sum: Amount
    work: Amount
    overhead: Amount
    total: Amount
    gaps: tuple[Gap, ...]

    @property
    def is_complete(self) -> bool:
        """Nothing is missing."""
        return not self.gaps

    @property
    def goes_in(self) -> Decimal:
        """Grams that go in for one unit, adjust lines with the most they may take."""
        return as_decimal(sum((line.grams for line in self.materials if line.grams is not None), NOTHING))


def estimate(
    recipe: Recipe | None, prices: Mapping[str, UnitPrice], parts: Sequence[Part], making: Making
) -> Estimate:
    """Cost of one unit. prices: per gram by ingredient key, in the maker's currency, like ``parts`` and rates.

    What goes in is the fill weight through straining and loss: needed / (1 - loss/100). Packaging has no loss. Work is
    the minutes of a usual batch at the hourly rate, shared over its units. Overhead is percent of materials, packaging
    and work together.
    """
    materials = material_costs(recipe, prices, making) if recipe is not None else []
    packs = [PartCost(part, part_cost(part)) for part in parts]
    work = work_cost(making)
    materials_sum = together([line.cost for line in materials])
    if recipe is None or not recipe.formula.is_complete:
        materials_sum = Amount(None, materials_sum.at_least)
    parts_sum = together([line.cost for line in packs])
    base = together([materials_sum, parts_sum, work])
    overhead = overhead_cost(base, making)
    total = together([base, overhead])
    gaps = tuple(dict.fromkeys(gaps_of(recipe, materials, packs, making)))
    if gaps:
        total = Amount(None, total.at_least)
    return Estimate(tuple(materials), tuple(packs), materials_sum, parts_sum, work, overhead, total, gaps)


def together(amounts: Sequence[Amount]) -> Amount:
    """The sum; unknown as soon as one of them is."""
    known = [one.exact for one in amounts if one.exact is not None]
    exact = sum(known, NOTHING) if len(known) == len(amounts) else None
    return Amount(exact, sum((one.at_least for one in amounts), NOTHING))


def material_costs(recipe: Recipe, prices: Mapping[str, UnitPrice], making: Making) -> list[MaterialCost]:
    """What each line of the formula costs in one unit."""
    goes_in = Fraction(making.fill_g) * WHOLE / (WHOLE - Fraction(making.loss or 0))
    found = []
    for take in takes(recipe):
        price = prices.get(take.ingredient) or paid_price(take.name, None, "", key=take.ingredient)
        grams = None if take.percent is None else goes_in * take.percent / WHOLE
        exact = None if grams is None or price.exact is None else grams * price.exact
        least = NOTHING if grams is None else grams * price.at_least
        why = f"{take.why[:1].upper()}{take.why[1:]}. {price.why}" if take.why else price.why
        found.append(
            MaterialCost(take.ingredient, take.name, take.written, grams, price, Amount(exact, least, why))
        )
    return found


def part_cost(part: Part) -> Amount:
    """What an article adds to one unit."""
    exact = None if part.price.exact is None else part.price.exact * part.count
    return Amount(exact, part.price.at_least * part.count, part.price.why)


def work_cost(making: Making) -> Amount:
    """Minutes of a usual batch at the hourly rate, shared over its units."""
    minutes, units, rate = making.batch_minutes, making.batch_units, making.labour_per_hour
    if minutes == 0:
        return Amount(NOTHING, NOTHING, "0 minutes of work are written down.")
    if minutes is None or not units or rate is None:
        return Amount(None, NOTHING, "Not known yet.")
    exact = Fraction(minutes) / MINUTES * Fraction(rate) / units
    hour = money(rate, making.currency, exact=True)
    said = f"{figure(minutes)} minutes at {hour} an hour, shared over {units} units of a usual batch."
    return Amount(exact, exact, said)


def overhead_cost(base: Amount, making: Making) -> Amount:
    """Percent of materials, packaging and work together."""
    if making.overhead is None:
        return Amount(None, NOTHING, "Not known yet.")
    share = Fraction(making.overhead) / WHOLE
    said = f"{figure(making.overhead)} % of materials, packaging and work together."
    return Amount(None if base.exact is None else base.exact * share, base.at_least * share, said)


# -- what is missing


def gaps_of(
    recipe: Recipe | None, materials: Sequence[MaterialCost], parts: Sequence[PartCost], making: Making
) -> Iterator[Gap]:
    """Everything that keeps the estimate from being complete, in the order of the page."""
    if recipe is None:
        yield Gap("formula", "", "The formula has no version to reckon by.", "Write its lines.")
    elif not recipe.formula.is_complete:
        total = figure(recipe.formula.total, places=12)
        yield Gap("formula", "", f"The lines of {recipe.title} make {total} %, not 100.", "Complete it.")
    for line in materials:
        if line.grams is None:
            yield Gap("formula", "", f"How much {line.name} goes in isn't said.", "Give it a percent.")
        yield from price_gaps(line.price)
    for one in parts:
        yield from price_gaps(one.part.price, "article")
    yield from making_gaps(making)


def price_gaps(price: UnitPrice, kind: Literal["ingredient", "article"] = "ingredient") -> Iterator[Gap]:
    """The prices and rates that are missing in a price, through in-house ingredients."""
    if price.exact is not None:
        return
    if price.foreign:
        yield Gap("rate", price.foreign, price.why, price.cure)
    elif price.key:
        yield Gap(kind, price.key, price.why, price.cure)
    else:
        inner = [gap for one in price.inner for gap in price_gaps(one.price)]
        yield from inner
        if not inner:
            yield Gap("formula", "", price.why, price.cure)


def making_gaps(making: Making) -> Iterator[Gap]:
    """Figures of making that nobody has written down; 0 is a figure."""
    if making.loss is None:
        yield Gap("making", "loss_percent", "How much is lost isn't said.", "Write the loss, 0 for none.")
    if making.batch_minutes is None:
        cure = "Write the minutes of a usual batch, 0 for none."
        yield Gap("making", "batch_minutes", "How long a usual batch takes isn't said.", cure)
    if making.batch_minutes != 0 and not making.batch_units:
        cure = "Write the units of a usual batch."
        yield Gap("making", "batch_units", "How many units a usual batch gives isn't said.", cure)
    if making.batch_minutes != 0 and making.labour_per_hour is None:
        cure = "Write the hourly rate, 0 for none."
        yield Gap("basis", "labour_per_hour", "What an hour of work costs isn't said.", cure)
    if making.overhead is None:
        cure = "Write the overhead, 0 for none."
        yield Gap("basis", "overhead_percent", "How much overhead is added isn't said.", cure)


# -- margin and markup


def price_for_margin(cost: Fraction, margin: Decimal) -> Fraction:
    """The price of which ``margin`` % are left after the cost: cost / (1 - margin). Raises ValueError at 100 % or more.

    Common practice, no source.
    """
    if not 0 <= margin < WHOLE:
        raise ValueError("a margin lies between 0 and less than 100 %")
    return cost * WHOLE / (WHOLE - Fraction(margin))


def price_for_markup(cost: Fraction, markup: Decimal) -> Fraction:
    """The cost with ``markup`` % of it added: cost x (1 + markup). Raises ValueError below 0.

    Common practice, no source.
    """
    if markup < 0:
        raise ValueError("a markup is 0 % or more")
    return cost * (WHOLE + Fraction(markup)) / WHOLE


def margin_of(price: Fraction, cost: Fraction) -> Fraction | None:
    """What is left of the price, as percent of the price; below 0 for a loss; None for a price of 0."""
    return (price - cost) * WHOLE / price if price else None


def markup_of(price: Fraction, cost: Fraction) -> Fraction | None:
    """What is added to the cost, as percent of the cost; None for a cost of 0."""
    return (price - cost) * WHOLE / cost if cost else None


def to_charge(price: Fraction, places: int) -> Decimal:
    """The price in whole minor units of its currency, rounded up so that what is wanted is reached.

    places: decimals of the currency's minor unit (ISO 4217): 2 for EUR, 0 for JPY.
    """
    return Decimal(math.ceil(price * 10**places)).scaleb(-places)


Standing = Literal["under", "unknown", "holds", "none"]


@dataclass(frozen=True, slots=True)
class Judged:
    """How a price stands to what is wanted of it. needed: the price that gives it; of the two wanted, the higher.

    standing: "under" is certain also where the cost isn't complete; "holds" only where it is. "none": nothing is
    wanted. margin, markup: percent of the price there is; where the cost isn't complete, at most that much.
    """

    standing: Standing
    needed: Fraction | None
    margin: Fraction | None
    markup: Fraction | None

    @property
    def shown_margin(self) -> Decimal | None:
        """The margin as a Decimal."""
        return None if self.margin is None else as_decimal(self.margin)

    @property
    def shown_markup(self) -> Decimal | None:
        """The markup as a Decimal."""
        return None if self.markup is None else as_decimal(self.markup)


def judge(
    price: Decimal | None, total: Amount, wanted_margin: Decimal | None, wanted_markup: Decimal | None
) -> Judged:
    """Hold the price there is against the wanted margin and markup, on unrounded figures; at it is not under it."""
    cost = total.at_least
    wanted = []
    if wanted_margin is not None:
        wanted.append(price_for_margin(cost, wanted_margin))
    if wanted_markup is not None:
        wanted.append(price_for_markup(cost, wanted_markup))
    needed = max(wanted) if wanted else None
    if price is None:
        return Judged("none" if needed is None else "unknown", needed, None, None)
    now = Fraction(price)
    margin, markup = margin_of(now, cost), markup_of(now, cost)
    if needed is None:
        return Judged("none", None, margin, markup)
    if now < needed:
        return Judged("under", needed, margin, markup)
    return Judged("holds" if total.exact is not None else "unknown", needed, margin, markup)
