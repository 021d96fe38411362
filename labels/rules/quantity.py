"""Net quantity: what is printed, how high its figures stand, and how far a pack may fall short.

Every figure that is converted is rounded down: a printed quantity never says more than was declared.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

from formulas.rules.number import (
    ONE,
    ZERO,
    difference,
    exact_product,
    round_down,
)
from labels.rules.tables import digit_heights
from makers.rules.reading import MASS_UNITS, VOLUME_UNITS

GRAMS_PER_OUNCE = MASS_UNITS["oz"]
ML_PER_FLUID_OUNCE = VOLUME_UNITS["fl oz"]
"""By definition of the avoirdupois pound and the US gallon; 16 CFR 500.19(a) printed 28.3495 and 29.5735."""

WEIGHT, VOLUME = "weight", "volume"

_METRIC = {
    "g": (WEIGHT, ONE),
    "kg": (WEIGHT, Decimal(1000)),
    "ml": (VOLUME, ONE),
    "l": (VOLUME, Decimal(1000)),
}
_OUNCES = {
    "oz": (WEIGHT, ONE),
    "lb": (WEIGHT, Decimal(16)),
    "fl oz": (VOLUME, ONE),
    "pt": (VOLUME, Decimal(16)),
    "qt": (VOLUME, Decimal(32)),
    "gal": (VOLUME, Decimal(128)),
}
UNITS = (*_METRIC, *_OUNCES)
"""Units in which a quantity can be declared."""

SMALLEST_WITH_QUANTITY = Decimal(5)
"""Below 5 g or 5 ml no quantity is asked for in the EU, Art. 19(1)(b)."""

_THOUSAND = Decimal(1000)
_TEN = Decimal(10)


@dataclass(frozen=True, slots=True)
class NetQuantity:
    """A net quantity as it is printed in one market.

    text: "" where the quantity needs no statement. metric: g or ml that the pack must hold at least, on
    average. figure_height_mm: least height of the digits; None where the panel decides (US).
    notes: sentences on what was done to the figure.
    """

    text: str
    metric: Decimal
    measure: str
    figure_height_mm: Decimal | None
    required: bool
    source: str
    basis: str
    notes: tuple[str, ...] = ()


def eu_net_quantity(amount: Decimal, unit: str, *, decimal_mark: str = ".") -> NetQuantity:
    """The quantity for the EU and Great Britain, in g, kg, ml or l.

    An amount declared in ounces is turned into the metric figure, rounded down. No e mark is claimed: it
    would say that the packer works by the average system. Raises ValueError for an amount <= 0 or a unit
    that is not in UNITS.
    """
    measure, metric, notes = _metric_of(amount, unit)
    required = metric >= SMALLEST_WITH_QUANTITY
    if not required:
        word = "g" if measure == WEIGHT else "ml"
        notes.append(f"Below 5 {word} no quantity is asked for.")
    band = next(
        row for row in digit_heights() if metric > row.over and (row.up_to is None or metric <= row.up_to)
    )
    return NetQuantity(
        text=_metric_text(metric, measure, litre="l").replace(".", decimal_mark),
        metric=metric,
        measure=measure,
        figure_height_mm=band.height_mm if required else None,
        required=required,
        source=f"Reg (EC) 1223/2009 Art. 19(1)(b); {band.source}",
        basis=band.basis,
        notes=tuple(notes),
    )


def us_net_contents(amount: Decimal, unit: str) -> NetQuantity:
    """The net contents for the United States in both systems, 15 USC 1453(a), 21 CFR 701.13.

    The system that was not declared is rounded down: ounces to one decimal, to two below 1; grams and ml
    to the whole from 10, to one decimal below 10, to three figures of kg or L from 1000. From 16 ounces
    pounds (pints, quarts) stand beside the ounces, from 4 lb or 1 gal they stand alone.
    Raises ValueError for an amount <= 0 or a unit that is not in UNITS.
    """
    _check(amount, unit)
    notes: list[str] = []
    if unit in _METRIC:
        measure, factor = _METRIC[unit]
        declared = exact_product(amount, factor)
        metric = _three_figures(declared)
        ounces = _ounces_from(declared, measure)
    else:
        measure, factor = _OUNCES[unit]
        declared = exact_product(amount, factor)
        ounces = round_down(declared, 2)
        metric = _metric_from(declared, measure)
    if unit in _METRIC and metric != declared:
        notes.append(f"Three figures are printed: {_plain(metric)} for the {_plain(declared)} declared.")
    if unit in _OUNCES and ounces != declared:
        notes.append(f"Two decimals at most are printed: {_plain(ounces)} oz.")
    second = _metric_text(metric, measure, litre="L")
    return NetQuantity(
        text=_dual(ounces, second, measure),
        metric=metric,
        measure=measure,
        figure_height_mm=None,
        required=True,
        source="15 USC 1453(a)(2); 21 CFR 701.13; 16 CFR 500.19(b)",
        basis="read",
        notes=tuple(notes),
    )


NET_QUANTITY = MappingProxyType({"EU": eu_net_quantity, "GB": eu_net_quantity, "US": us_net_contents})
"""The printed quantity by market; each takes (amount, unit)."""


def _check(amount: Decimal, unit: str) -> None:
    if unit not in UNITS:
        raise ValueError(f"{unit!r} is none of {', '.join(UNITS)}")
    if not amount > ZERO:
        raise ValueError("a net quantity is above 0")


def _metric_of(amount: Decimal, unit: str) -> tuple[str, Decimal, list[str]]:
    _check(amount, unit)
    if unit in _METRIC:
        measure, factor = _METRIC[unit]
        return measure, exact_product(amount, factor), []
    measure, factor = _OUNCES[unit]
    metric = _metric_from(exact_product(amount, factor), measure)
    note = f"{_plain(amount)} {unit} is rounded down to the metric figure, so that it never says too much."
    return measure, metric, [note]


def _ounces_from(metric: Decimal, measure: str) -> Decimal:
    """Ounces of g or ml, rounded down: one decimal, two below 1."""
    per_ounce = GRAMS_PER_OUNCE if measure == WEIGHT else ML_PER_FLUID_OUNCE
    ounces = _quotient_down(metric, per_ounce, 1)
    if ounces < ONE:
        ounces = _quotient_down(metric, per_ounce, 2)
    if exact_product(ounces, per_ounce) > metric:
        raise AssertionError("ounces that say more than was declared")
    return ounces


def _metric_from(ounces: Decimal, measure: str) -> Decimal:
    """g or ml of ounces, rounded down as far as the text shows them."""
    exact = exact_product(ounces, GRAMS_PER_OUNCE if measure == WEIGHT else ML_PER_FLUID_OUNCE)
    if exact >= _THOUSAND:
        return _three_figures(exact)
    return round_down(exact, 0 if exact >= _TEN else 1)


def _three_figures(value: Decimal) -> Decimal:
    """The value rounded down to three figures."""
    return round_down(value, 2 - value.adjusted())


def _quotient_down(top: Decimal, bottom: Decimal, places: int) -> Decimal:
    """``top / bottom`` rounded down to ``places`` decimals, by whole numbers."""
    top_up, top_down = exact_product(top, ONE.scaleb(places)).as_integer_ratio()
    bottom_up, bottom_down = bottom.as_integer_ratio()
    return Decimal((top_up * bottom_down) // (top_down * bottom_up)).scaleb(-places)


def _dual(ounces: Decimal, metric: str, measure: str) -> str:
    word, prefix = ("oz", "Net Wt ") if measure == WEIGHT else ("fl oz", "")
    large = Decimal(64) if measure == WEIGHT else Decimal(128)
    if ounces < Decimal(16):
        return f"{prefix}{_plain(ounces)} {word} ({metric})"
    parts = _in_units(ounces, measure, word)
    if ounces >= large:
        return f"{prefix}{parts} ({metric})"
    return f"{prefix}{_plain(ounces)} {word} ({parts}) {metric}"


def _in_units(ounces: Decimal, measure: str, word: str) -> str:
    """Largest whole units first, the rest in ounces: "1 lb 8 oz"."""
    names = ("lb",) if measure == WEIGHT else ("gal", "qt", "pt")
    parts, left = [], ounces
    for name in names:
        count = left // _OUNCES[name][1]
        if count:
            parts.append(f"{_plain(count)} {name}")
            left = difference(left, exact_product(count, _OUNCES[name][1]))
    if left:
        parts.append(f"{_plain(left)} {word}")
    return " ".join(parts)


def _metric_text(metric: Decimal, measure: str, *, litre: str) -> str:
    small, large = ("g", "kg") if measure == WEIGHT else ("m" + litre, litre)
    if metric >= _THOUSAND:
        return f"{_plain(metric.scaleb(-3))} {large}"
    return f"{_plain(metric)} {small}"


def _plain(value: Decimal) -> str:
    """Without exponent and without idle zeros."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
