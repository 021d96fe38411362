"""From measures to grams and from grams to percent, with every step said. What is not known stays unknown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from fractions import Fraction
from typing import Literal

from formulas.rules.interval import Interval
from formulas.rules.number import EXACT_QUANTIZE, HUNDRED, ZERO, figure
from formulas.rules.recipe.measures import REGIONS, kind_of, measure
from formulas.rules.recipe.said import Amount, RecipeLine

PLACES = Decimal("0.00000001")
BULK_SPREAD = Decimal("0.21")
"""How far a spooned powder strays from its bulk density, either way: brown sugar weighs 0.61 g/ml loose and 0.93
packed (USDA National Nutrient Database SR28, household weights), 21 % to either side of the middle."""

DensityKind = Literal["liquid", "melt", "bulk", "solid", ""]


@dataclass(frozen=True, slots=True)
class Density:
    """Grams a millilitre. Only liquid, melt and bulk turn a volume into a mass; bulk has a spread."""

    g_ml: Decimal
    kind: DensityKind
    source: str = ""
    basis: str = ""

    @property
    def ends(self) -> tuple[Decimal, Decimal]:
        """The least and the most it may be."""
        if self.kind != "bulk":
            return self.g_ml, self.g_ml
        return self.g_ml * (1 - BULK_SPREAD), self.g_ml * (1 + BULK_SPREAD)


@dataclass(frozen=True, slots=True)
class Material:
    """What is known of the ingredient that a line means. is_liquid: None where that is not known."""

    density: Density | None = None
    is_liquid: bool | None = None


@dataclass(frozen=True, slots=True)
class Weighed:
    """A line in grams, or in percent or parts of the whole, or what has to be asked first.

    Ends are exact to 1e-8 g. says: each conversion in words. asks is empty once the line counts.
    """

    low: Decimal | None = None
    high: Decimal | None = None
    unit: Literal["g", "%", "part", "rest", ""] = ""
    says: tuple[str, ...] = ()
    asks: str = ""
    may_mean: tuple[str, ...] = ()

    @property
    def is_exact(self) -> bool:
        """Both ends are one figure."""
        return self.low is not None and self.low == self.high


def weigh_line(line: RecipeLine, region: str, material: Material, *, meant: str = "") -> Weighed:
    """Grams, percent or parts of a line that was read.

    region: a key of REGIONS. meant: the measure that the maker chose where the line leaves a choice.
    """
    if line.is_rest and not line.asks:
        return Weighed(unit="rest", says=("Takes what is left to 100 %.",))
    if line.asks and not (meant and meant in line.may_mean and len(line.amounts) == 1):
        return Weighed(asks=line.asks, may_mean=line.may_mean)
    low = high = Fraction(0)
    said: list[str] = []
    units = set()
    for amount in line.amounts:
        key = meant if meant and (line.asks or amount.unit == "oz") else amount.unit
        if kind_of(key) in {"share", "part"}:
            units.add(key)
            low, high = low + amount.count.low, high + amount.count.high
            continue
        units.add("g")
        ends = _grams(amount, key, region, material, said, meant)
        if isinstance(ends, Weighed):
            return ends
        low, high = low + ends[0], high + ends[1]
    if len(units) != 1:
        return Weighed(asks="Several amounts of different kinds. What do they weigh together?")
    return _weighed(low, high, units.pop(), said)


def _weighed(low: Fraction, high: Fraction, unit: str, said: list[str]) -> Weighed:
    ends = (_down(low), _down(high)) if low == high else (_down(low), _up(high))
    if ends[1] <= ZERO:
        return Weighed(asks="The amount is nothing. How much is it?", may_mean=("g",))
    if unit == "%" and ends[1] > HUNDRED:
        return Weighed(asks=f"{figure(ends[1])} % is more than the whole. How much is it?")
    kinds: dict[str, Literal["g", "%", "part"]] = {"g": "g", "%": "%", "part": "part"}
    return Weighed(*ends, kinds[unit], tuple(said))


def _grams(
    amount: Amount, key: str, region: str, material: Material, said: list[str], meant: str
) -> tuple[Fraction, Fraction] | Weighed:
    """Ends in grams, or what is asked; says how."""
    if key == "oz" and not meant and material.is_liquid is not False:
        why = "of a liquid" if material.is_liquid else "of something whose form isn't known"
        return Weighed(asks=f"Ounces {why}: by weight or fluid ounces?", may_mean=("oz", "fl oz"))
    size = measure(key, region)
    if size is None:
        place = REGIONS[region].split(":")[0]
        return Weighed(asks=f"{place} knows no {key}. Choose another region, or weigh it.", may_mean=("g",))
    low, high = amount.count.low * Fraction(size.low), amount.count.high * Fraction(size.high)
    one = _span(size.low, size.high)
    if size.kind == "mass":
        if key != "g":
            said.append(f"1 {size.name} = {one} g ({size.source}).")
        return low, high
    density = material.density
    if density is None or density.kind in {"solid", ""}:
        why = "of a solid block says nothing of a spoonful" if density else "isn't known"
        return Weighed(asks=f"Its density {why}. What does it weigh?", may_mean=("g",))
    least, most = density.ends
    if key != "ml":
        said.append(f"1 {size.name} = {one} ml ({size.source}{_from_memory(size.basis)}).")
    spread = {"bulk": ", spooned powder, 21 % either way", "melt": ", melted", "liquid": ", liquid"}[
        density.kind
    ]
    source = f" ({density.source}{_from_memory(density.basis)})" if density.source else ""
    said.append(f"1 ml = {figure(density.g_ml)} g{spread}{source}.")
    return low * Fraction(least), high * Fraction(most)


def whole_of(lines: Sequence[RecipeLine]) -> Decimal | None:
    """Grams of the whole where the recipe says it by weight, once or always the same; None otherwise."""
    said = set()
    for whole in (line.whole for line in lines if line.whole is not None):
        size = measure(whole.unit, "any")
        is_sure = size is not None and size.kind == "mass" and whole.unit != "oz"
        said.add(_down(whole.count.low * Fraction(size.low)) if size and is_sure else None)
        said.add(_down(whole.count.high * Fraction(size.low)) if size and is_sure else None)
    return said.pop() if len(said) == 1 else None


def _from_memory(basis: str) -> str:
    return ", from memory" if basis == "memory" else ""


def _span(low: Decimal, high: Decimal) -> str:
    return figure(low) if low == high else f"{figure(low)} to {figure(high)}"


def _down(value: Fraction) -> Decimal:
    return _decimal(value, ROUND_FLOOR)


def _up(value: Fraction) -> Decimal:
    return _decimal(value, ROUND_CEILING)


def _decimal(value: Fraction, rounding: str) -> Decimal:
    """To 1e-8: an endless figure, a third of a cup say, towards its end of the range, one that ends to the nearest."""
    with_more = Decimal(value.numerator * 10**12 // value.denominator).scaleb(-12)
    way = rounding if Fraction(with_more) != value else ROUND_HALF_EVEN
    return with_more.quantize(PLACES, rounding=way, context=EXACT_QUANTIZE)


def shares(
    weighed: Sequence[Weighed], *, total_g: Decimal | None = None
) -> tuple[Interval | None, ...] | str:
    """Percent of each line, with both ends where grams have two; or the question that stands in the way.

    Grams alone share out what they add up to. Percents stand as they are. A line "to 100" takes what is left,
    which beside grams needs the mass of the whole, ``total_g``; so do percents beside grams. Parts go by weight
    and mix with nothing. While a line asks, no percent is known: the whole isn't.
    """
    if any(one.asks for one in weighed):
        return "The percents are known once every line is."
    units = {one.unit for one in weighed}
    if "part" in units:
        if units != {"part"}:
            return "Parts stand beside other measures. Give them all in one."
        return _of_the_sum(weighed)
    if units <= {"%", "rest"} and (doubt := _doubt_of(weighed)):
        return doubt
    if "g" not in units:
        return tuple(None if one.unit == "rest" else Interval(one.low, one.high) for one in weighed)
    if units == {"g"} and total_g is None:
        return _of_the_sum(weighed)
    if total_g is None or total_g <= ZERO:
        return "Grams stand beside percents or a line to 100. What does the whole weigh?"
    found: list[Interval | None] = []
    for one in weighed:
        if one.unit == "g":
            low, high = Fraction(one.low or 0) * 100, Fraction(one.high or 0) * 100
            whole = Fraction(total_g)
            found.append(_interval(low / whole, high / whole))
        else:
            found.append(None if one.unit == "rest" else Interval(one.low, one.high))
    return tuple(found)


HUNDREDTH = Decimal("0.01")
TWICE = 150
"""Percent from which a recipe most likely counts something twice: a phase's sum beside its lines, say. Chosen here."""


def _doubt_of(weighed: Sequence[Weighed]) -> str:
    """What is asked of percents that can hardly be those of one whole."""
    together = sum((one.low or ZERO for one in weighed), ZERO)
    if together >= TWICE:
        return f"The percents make {figure(together)} together. Leave out what is a sum of other lines."
    if len(weighed) > 1 and abs(together - 1) <= HUNDREDTH and all(one.unit == "%" for one in weighed):
        return f"The percents make {figure(together)} together: are they hundredths? Write them as percents."
    return ""


def _of_the_sum(weighed: Sequence[Weighed]) -> tuple[Interval | None, ...]:
    lows = [Fraction(one.low or 0) for one in weighed]
    highs = [Fraction(one.high or 0) for one in weighed]
    all_low, all_high = sum(lows, Fraction(0)), sum(highs, Fraction(0))
    return tuple(
        _interval(low * 100 / (low + all_high - high), high * 100 / (high + all_low - low))
        for low, high in zip(lows, highs, strict=True)
    )


def _interval(low: Fraction, high: Fraction) -> Interval:
    return Interval.point(_down(low)) if low == high else Interval(_down(low), _up(high))
