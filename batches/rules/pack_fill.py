"""Whether packs hold together what their label says, by the mass that went into all of them.

Masses in g. "Less" is strict and on unrounded values: 16 CFR 500.25(c) and Dir 76/211/EEC Annex I 1.1 both ask
that the mean of the packs is not below the quantity on the label. What a label says by volume is not known by
weight; then the fill weight of the product is what the packs are compared with, and the sentence says so.
"""

from __future__ import annotations

from decimal import Decimal

from formulas.rules.number import RATIO_DOWN, exact_product, round_down
from makers.rules.display import figure, plural
from makers.rules.reading import MASS_UNITS

BY_VOLUME = "whether that is in isn't known by weight"
BOOK_PLACES = 4
"""Decimals of a gram that the book keeps; a label in ounces asks for more of them than can be written."""


def nominal_g(net_amount: Decimal, net_unit: str) -> Decimal | None:
    """The exact grams of a net quantity by mass; None where it is by volume: that needs a density."""
    factor = MASS_UNITS.get(net_unit)
    return None if factor is None else exact_product(net_amount, factor)


def less_than_labelled(
    *, units: int, grams: Decimal, net_amount: Decimal, net_unit: str, fill_g: Decimal
) -> str:
    """What is said of packs that hold less than their label, with the figures; "" where they hold enough.

    units: packs, 1 or more. grams: what went into all of them. net_amount, net_unit: what the label of each
    says. fill_g: what each is to be filled with. Raises ValueError for no packs.
    """
    if units < 1:
        raise ValueError("no packs hold nothing")
    nominal = nominal_g(net_amount, net_unit)
    asked = round_down(exact_product(Decimal(units), fill_g if nominal is None else nominal), BOOK_PLACES)
    if grams >= asked:
        return ""
    each = figure(RATIO_DOWN.divide(grams, Decimal(units)), most=2, rounding="down")
    held = f"{figure(grams)} g in {units} {plural(units, 'pack')}"
    if units > 1:
        held += f" is {each} g each"
    said = f"label says {figure(net_amount)} {net_unit}"
    if nominal is None:
        return f"{held}; each is to be filled with {figure(fill_g)} g. The {said}: {BY_VOLUME}."
    if net_unit != "g":
        said += f", {figure(nominal, rounding='up')} g"
    return f"{held}; the {said}."
