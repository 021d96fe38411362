"""How much of a fat phase is solid at a temperature: an estimate by ideal mixing, as a band.

S(T) = sum of w_i x S_i(T), w_i the mass fraction of the fats and oils. Between the temperatures of a table the
figure is interpolated; beyond them it is only bounded, since a fat never sets by warming. A fat without a table
counts as anything from liquid to solid, so that what isn't known widens the band. Tables: data/solid_fat.csv
(published, SFC by pulsed NMR) and data/solid_fat_placeholders.csv (remembered ranges, no table traced; they widen
the band). Figures by dilatometry (SFI) measure something else and are never mixed with these.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from formulas.rules.number import HUNDRED, RATIO_DOWN, RATIO_UP, ZERO, difference, exact_product, exact_sum
from formulas.rules.tables import DATA
from makers.rules.tables import read_rows

TEMPERATURES = (Decimal(20), Decimal(25), Decimal(30), Decimal(35))
"""Degrees Celsius looked at: a cool room, a warm one, a hot day, against the skin."""

METHOD = "SFC"
PLACEHOLDER_WIDENING = Decimal(5)
"""Points of solid fat by which a remembered range is taken wider at either end; ours, no source."""

HARD, FIRM, SPREADABLE, OILY = Decimal(50), Decimal(35), Decimal(15), Decimal(10)
"""% solid fat from which a blend reads so (oily: below); common practice, no source."""


@dataclass(frozen=True, slots=True)
class SolidFat:
    """One figure of a table: % of the fat that is solid at a temperature, with the ends of its range.

    variety: "" for the general row of a fat. method: SFC or SFI. is_placeholder: no table was traced.
    """

    substance: str
    name: str
    variety: str
    method: str
    temperature_c: Decimal
    low: Decimal
    typical: Decimal
    high: Decimal
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class FatTable:
    """One fat's rows of one method in order of temperature."""

    name: str
    rows: tuple[SolidFat, ...]
    is_placeholder: bool


@dataclass(frozen=True, slots=True)
class Fat:
    """A fat or oil of the blend. percent: of the product. table: None for one that is liquid from 20 °C up.

    is_known: False for one that sets and has no table: anything from 0 to 100 % of it may be solid.
    """

    percent: Decimal
    table: FatTable | None
    is_known: bool = True


@dataclass(frozen=True, slots=True)
class Band:
    """% of the fats and oils that is solid at a temperature. low, high: None where the blend isn't covered;
    typical: None too where a fat has no figure there, only bounds."""

    temperature_c: Decimal
    low: Decimal | None
    typical: Decimal | None
    high: Decimal | None

    @property
    def reading(self) -> str:
        """What the band says in words, from its low end to its high end; "not covered" without a figure."""
        if self.low is None or self.high is None:
            return "not covered"
        softest, hardest = reading_of(self.low), reading_of(self.high)
        return softest if softest == hardest else f"{softest} to {hardest}"


def reading_of(solid: Decimal) -> str:
    """How a blend with so much solid fat (%) behaves; common practice, no source."""
    if solid > HARD:
        return "hard"
    if solid >= FIRM:
        return "firm"
    if solid >= SPREADABLE:
        return "spreadable"
    return "soft" if solid >= OILY else "oily"


@cache
def fat_tables() -> Mapping[str, FatTable]:
    """The general SFC rows of each fat by substance key, a published table before a placeholder."""
    found: dict[str, FatTable] = {}
    for name, is_placeholder in (("solid_fat_placeholders.csv", True), ("solid_fat.csv", False)):
        by_substance: dict[str, list[SolidFat]] = {}
        for row in read_rows(DATA / name, SolidFat, only={"method": METHOD, "variety": ""}):
            by_substance.setdefault(row.substance, []).append(row)
        for substance, rows in by_substance.items():
            in_order = tuple(sorted(rows, key=lambda row: row.temperature_c))
            found[substance] = FatTable(rows[0].name, in_order, is_placeholder)
    return found


def solid_at(table: FatTable, temperature_c: Decimal) -> tuple[Decimal, Decimal | None, Decimal]:
    """Low, typical and high % solid at a temperature; a placeholder is widened.

    Beyond the rows no typical figure: colder at least as solid as at the first row, warmer at most as at the last.
    """
    coldest, warmest = table.rows[0], table.rows[-1]
    found: tuple[Decimal, Decimal | None, Decimal] = (coldest.low, None, HUNDRED)
    if temperature_c > warmest.temperature_c:
        found = (ZERO, ZERO if warmest.typical == ZERO else None, warmest.high)
    for lower, upper in zip(table.rows, table.rows[1:], strict=False):
        if lower.temperature_c <= temperature_c <= upper.temperature_c:
            found = (
                _between(lower, upper, temperature_c, lower.low, upper.low),
                _between(lower, upper, temperature_c, lower.typical, upper.typical),
                _between(lower, upper, temperature_c, lower.high, upper.high),
            )
            break
    if not table.is_placeholder:
        return found
    low = max(ZERO, difference(found[0], PLACEHOLDER_WIDENING))
    return low, found[1], min(HUNDRED, exact_sum((found[2], PLACEHOLDER_WIDENING)))


def _between(
    lower: SolidFat, upper: SolidFat, temperature_c: Decimal, at_lower: Decimal, at_upper: Decimal
) -> Decimal:
    step = difference(upper.temperature_c, lower.temperature_c)
    part = exact_product(difference(at_upper, at_lower), difference(temperature_c, lower.temperature_c))
    return exact_sum((at_lower, RATIO_UP.divide(part, step)))


def bands(fats: Sequence[Fat], temperatures: Sequence[Decimal] = TEMPERATURES) -> tuple[Band, ...]:
    """The band at each temperature; the ends are rounded outwards. Empty for a blend of nothing."""
    total = exact_sum(fat.percent for fat in fats)
    return tuple(_band(fats, total, each) for each in temperatures) if total > ZERO else ()


def _band(fats: Sequence[Fat], total: Decimal, temperature_c: Decimal) -> Band:
    low, typical, high = ZERO, ZERO, ZERO
    has_typical = True
    for fat in fats:
        least, usual, most = _solid_of(fat, temperature_c)
        has_typical = has_typical and usual is not None
        low = exact_sum((low, exact_product(fat.percent, least)))
        typical = exact_sum((typical, exact_product(fat.percent, usual or ZERO)))
        high = exact_sum((high, exact_product(fat.percent, most)))
    return Band(
        temperature_c,
        RATIO_DOWN.divide(low, total),
        RATIO_DOWN.divide(typical, total) if has_typical else None,
        RATIO_UP.divide(high, total),
    )


def _solid_of(fat: Fat, temperature_c: Decimal) -> tuple[Decimal, Decimal | None, Decimal]:
    if fat.table is not None:
        return solid_at(fat.table, temperature_c)
    return (ZERO, ZERO, ZERO) if fat.is_known else (ZERO, None, HUNDRED)


def bears_up_to(found: Sequence[Band]) -> Decimal | None:
    """The warmest temperature looked at up to which the low end stays spreadable; None if it never is."""
    warmest = None
    for band in found:
        if band.low is None or band.low < SPREADABLE:
            break
        warmest = band.temperature_c
    return warmest
