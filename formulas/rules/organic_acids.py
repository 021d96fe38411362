"""Organic acids that preserve: how much acid a salt makes, and how much of it is undissociated at a pH.

Only the undissociated acid works well (Steinberg, J. Cosmet. Sci. 56 (2005) 361). A warning light, no challenge
test: the ion has some effect too, and oil and micelles take acid out of the water.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Context, Decimal
from functools import cache

from formulas.rules.number import ONE, RATIO_DOWN, exact_product
from formulas.rules.tables import DATA
from makers.rules.tables import read_rows

POWERS = Context(prec=50)
"""For powers of ten with a broken exponent, which no context gives exactly."""


@dataclass(frozen=True, slots=True)
class OrganicAcid:
    """An acid or one of its salts. acid: key of the acid, its own for an acid. molar_mass: g/mol.

    acids_each: molecules of the acid that one of the salt makes. pka: of the acid, None in the row of a salt.
    """

    substance: str
    name: str
    acid: str
    formula: str
    molar_mass: Decimal
    acids_each: int
    pka: Decimal | None
    source: str
    basis: str


@cache
def organic_acids() -> Mapping[str, OrganicAcid]:
    """Acids and salts of data/organic_acids.csv by substance key."""
    return {row.substance: row for row in read_rows(DATA / "organic_acids.csv", OrganicAcid)}


@cache
def acid_per_gram(substance: str) -> Decimal:
    """g of the acid that 1 g of this acid or salt makes, rounded down at 50 digits. Raises KeyError."""
    row = organic_acids()[substance]
    acid = organic_acids()[row.acid]
    return RATIO_DOWN.divide(exact_product(Decimal(row.acids_each), acid.molar_mass), row.molar_mass)


def undissociated(ph: Decimal, pka: Decimal) -> Decimal:
    """The undissociated fraction, 0 to 1, by Henderson and Hasselbalch: 1 / (1 + 10^(pH - pKa))."""
    return POWERS.divide(ONE, POWERS.add(ONE, POWERS.power(Decimal(10), POWERS.subtract(ph, pka))))
