"""Several amounts on one line: added up, a range, one said twice, or a question which of them counts."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, product

from formulas.rules.recipe.measures import BARE, CAPITALS, SPOONS, UNSURE, kind_of, measures
from formulas.rules.recipe.numbers import Count
from formulas.rules.recipe.said import Amount, RecipeLine

METRIC = frozenset({"mg", "g", "kg", "ml", "cl", "dl", "l"})
ROUNDED = Fraction(1, 10)
"""How far one amount said in two measures may part at the most, however roughly it is written. Chosen
here, no source."""
ZERO = Fraction(0)
_NAMING = re.compile(r"[^\W\d_]{2,}")
_NO_NAME = re.compile(
    r"(?i)\b(?:about|approx\w*|ca|circa|roughly|or|of|the|each|plus|and|total|weight|by|scant|generous|de|di|to|bis)\b"
)

STEPS_DOWN = {("lb", "oz"): 16, ("kg", "g"): 1000, ("l", "ml"): 1000}
"""So many of the second make one of the first: "1 lb 4 oz" is one amount."""


def added(line: str, amounts: list[Amount], measured: list[re.Match[str]]) -> tuple[list[Amount], list[str]]:
    """The amounts with "1 lb 4 oz" made one, and what stands between those that are left."""
    joined, parted = amounts[:1], list[str]()
    for amount, (before, after) in zip(amounts[1:], pairwise(measured), strict=False):
        between = line[before.end() : after.start()]
        last = joined[-1]
        size = STEPS_DOWN.get((last.unit, amount.unit), 0)
        if re.fullmatch(r"\s*,?\s*(?:and\s)?", between) and last.count.is_whole and amount.count.high < size:
            low, high = (last.count.low + end / size for end in (amount.count.low, amount.count.high))
            joined[-1] = Amount(Count(low, high), last.unit, f"{last.typed} {amount.typed}")
            continue
        joined.append(amount)
        parted.append(between)
    return joined, parted


def settle(one: RecipeLine, amounts: list[Amount], parted: list[str]) -> RecipeLine:
    """Which of the amounts count. parted: what stands between each and the next."""
    if len(amounts) == 1:
        return _single(one, amounts[0])
    unsure = next((amount for amount in amounts if not amount.unit or amount.unit.startswith("?")), None)
    if unsure is not None:
        return replace(
            one, asks=f"Several amounts, one of them unclear ({unsure.typed}). What does it weigh?"
        )
    if all(re.fullmatch(r"\s*(?:\+|plus|and|&)\s*", between) for between in parted):
        return replace(one, amounts=tuple(amounts))
    if (
        len(amounts) == 2
        and amounts[0].unit == amounts[1].unit
        and re.fullmatch(r"\s*(?:-|to)\s*", parted[0])
    ):
        low, high = amounts[0].count.low, amounts[1].count.high
        if low < high:
            typed = f"{amounts[0].typed} to {amounts[1].typed}"
            return replace(one, amounts=(Amount(Count(low, high), amounts[0].unit, typed),))
    if len(amounts) == 2 and _says_the_same(parted[0]):
        chosen, note = _one_of_two(*amounts)
        if chosen is not None:
            return replace(one, amounts=(chosen,), notes=(*one.notes, note))
    several = replace(one, asks="Several amounts. Which counts, or what do they weigh together?")
    if {kind_of(amount.unit) for amount in amounts} == {"share", "mass"} and len(amounts) == 2:
        share, mass = sorted(amounts, key=lambda amount: kind_of(amount.unit) != "share")
        return replace(several, both=(share, mass))
    return several


def _one_of_two(left: Amount, right: Amount) -> tuple[Amount | None, str]:
    """One amount said in two measures: the mass before a volume, the metric one of two that agree."""
    by_kind = {kind_of(amount.unit): amount for amount in (right, left)}
    if by_kind.keys() == {"mass", "volume"}:
        mass, volume = by_kind["mass"], by_kind["volume"]
        if mass.unit == "oz" and volume.unit in METRIC:
            return volume, f"{volume.typed} counts; {mass.typed} are fluid ounces or a weight."
        if mass.unit == "oz" and _agree(replace(mass, unit="fl oz"), volume):
            return None, ""
        return (mass, f"The mass counts, not {volume.typed}.") if _may_weigh(mass, volume) else (None, "")
    first, second = sorted((left, right), key=lambda amount: amount.unit not in METRIC)
    if (
        len(by_kind) == 1
        and by_kind.keys() <= {"mass", "volume"}
        and first.unit in METRIC
        and _agree(first, second)
    ):
        return first, f"{first.typed} counts; {second.typed} is the same, rounded or by another cup or spoon."
    return None, ""


LIGHTEST, HEAVIEST = Fraction(1, 10), Fraction(3)
"""g/ml: from a fluffy powder to a heavy one; what lies beyond is no one amount in two measures. Chosen here."""


def _may_weigh(mass: Amount, volume: Amount) -> bool:
    """Whether a mass may be that of a volume, in some region's measures."""
    grams, millilitres = (
        [Fraction(size.low) for (key, _), size in measures().items() if key == amount.unit]
        for amount in (mass, volume)
    )
    return any(
        LIGHTEST * volume.count.low * ml <= mass.count.low * g <= HEAVIEST * volume.count.high * ml
        for g, ml in product(grams, millilitres)
    )


def names_apart(line: str, measured: list[re.Match[str]]) -> bool:
    """Whether words stand on more than one side of the amounts: they may be of several materials."""
    ends = [0, *(hit.end() for hit in measured)]
    starts = [*(hit.start() for hit in measured), len(line)]
    sides = [line[end:start] for end, start in zip(ends, starts, strict=True)]
    return sum(bool(_NAMING.search(_NO_NAME.sub(" ", side))) for side in sides) > 1


def _says_the_same(between: str) -> bool:
    """Whether two amounts are joined as one amount said twice: in brackets, after a stroke, an equals sign."""
    return bool(
        re.fullmatch(
            r"(?i)[^(\[]{0,60}[(\[/|=]\s*(?:about|approx\w*\.?|ca\.|or|~|=)?\s*|\s*[,;|]\s*", between
        )
    )


def _agree(left: Amount, right: Amount) -> bool:
    """Whether two amounts are the same but for rounding, in some region's measures."""
    sizes = [
        [Fraction(size.low) for (key, _), size in measures().items() if key == amount.unit]
        for amount in (left, right)
    ]
    for one_size, other_size in product(*sizes):
        one, other = left.count.low * one_size, right.count.low * other_size
        may_miss = left.off_by * one_size + right.off_by * other_size
        if left.unit in METRIC and right.unit in METRIC:
            may_miss = ZERO
        if abs(one - other) <= min(may_miss, ROUNDED * max(one, other)):
            return True
    return False


def _single(one: RecipeLine, amount: Amount) -> RecipeLine:
    """A line with one amount."""
    if amount.unit == "":
        return replace(one, amounts=(amount,), asks=f"{amount.typed} of what?", may_mean=BARE)
    if not amount.unit.startswith("?"):
        return replace(one, amounts=(amount,))
    word = amount.unit[1:]
    if word in SPOONS:
        return replace(
            one, amounts=(amount,), asks=f"“{word}”: teaspoon or tablespoon?", may_mean=("tsp", "tbsp")
        )
    if choices := CAPITALS.get(word) or UNSURE.get(word):
        return replace(one, amounts=(amount,), asks=f"“{word}” can be several measures.", may_mean=choices)
    return replace(one, asks=f"How much is “{amount.typed}”? Weigh it once.", may_mean=("g",))
