"""Firmness in heat as the desk and a product show it: the band at each temperature, drawn, with what it leaves open."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from formulas.actions.formulas import asked_of
from formulas.models import FormulaVersion, Product
from formulas.rules.firmness import Band, bears_up_to
from formulas.rules.firmness_drawing import CURVE, FirmnessDrawing, draw
from formulas.rules.number import HUNDRED, ZERO, round_down, round_up
from formulas.rules.review import Asked
from formulas.rules.review.firmness import FatPhase, carries_itself, doubts_of, fat_phase, why_not_covered
from formulas.rules.review.parts import named
from formulas.whereused import versions_in_force
from makers.models import Maker


@dataclass(frozen=True, slots=True)
class HeatRow:
    """% solid at a temperature in whole figures, rounded outwards, and what that reads as."""

    temperature_c: Decimal
    low: Decimal
    high: Decimal
    reading: str


@dataclass(frozen=True, slots=True)
class FirmnessShown:
    """What is shown of a fat phase. bears: °C up to which it surely stays spreadable, None if it never does.

    covered: % of its fats and oils with figures, in whole figures rounded down; None where a percent isn't
    known. why_not: why there is no band, "" where there is one. doubts: what makes it doubtful. held_by: the
    waxes that carry it all the same.
    """

    rows: tuple[HeatRow, ...]
    drawing: FirmnessDrawing | None
    bears: Decimal | None
    covered: Decimal | None
    why_not: str
    doubts: tuple[str, ...]
    held_by: str

    @property
    def is_whole(self) -> bool:
        """Every one of its fats and oils has figures."""
        return self.covered == HUNDRED


def row_of(band: Band) -> HeatRow:
    """A band's ends to read."""
    low, high = round_down(band.low or ZERO, 0), round_up(band.high or ZERO, 0)
    return HeatRow(band.temperature_c, low, high, band.reading)


def shown_of(phase: FatPhase) -> FirmnessShown:
    """The band of a fat phase and what stands beside it."""
    covered = None if phase.covered_percent is None else round_down(phase.covered_percent, 0)
    if not phase.is_covered:
        return FirmnessShown((), None, None, covered, why_not_covered(phase), (), "")
    bears = bears_up_to(phase.bands)
    return FirmnessShown(
        tuple(row_of(band) for band in phase.bands),
        draw(phase.bands_at(CURVE), bears),
        bears,
        covered,
        "",
        tuple(words[0].upper() + words[1:] + "." for words in doubts_of(phase)),
        named(phase.wax) if carries_itself(phase) else "",
    )


def firmness_of(asked: Asked) -> FirmnessShown | None:
    """The firmness of a formula; None where its fats don't carry it."""
    phase = fat_phase(asked)
    return None if phase is None else shown_of(phase)


@dataclass(frozen=True, slots=True)
class HeatOfProduct:
    """What the estimate says to a product's rule of sale and shipping. version: the one that it was worked out of."""

    product: Product
    version: FormulaVersion
    firmness: FirmnessShown

    @property
    def suggested(self) -> Decimal | None:
        """The figure to take on where none is fixed, or a warmer one than the estimate bears."""
        said, bears = self.product.not_above_c, self.firmness.bears
        if bears is None or (said is not None and said <= bears):
            return None
        return bears

    @property
    def is_warmer(self) -> bool:
        """The product's own figure lies above what the estimate bears."""
        said, bears = self.product.not_above_c, self.firmness.bears
        return said is not None and not self.firmness.held_by and (bears is None or said > bears)


def heat_of_product(maker: Maker, product: Product) -> HeatOfProduct | None:
    """The estimate for the version in force of the product's formula; None without one or without such a fat phase."""
    chosen = versions_in_force(maker, [product.formula_id]).get(product.formula_id)
    if chosen is None:
        return None
    version = FormulaVersion.objects.for_maker(maker).select_related("formula").get(pk=chosen)
    firmness = firmness_of(asked_of(maker, version))
    return None if firmness is None or firmness.why_not else HeatOfProduct(product, version, firmness)
