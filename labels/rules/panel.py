"""The principal display panel of a pack and how high letters stand on it, United States."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from formulas.rules.number import exact_product, exact_sum, percent_of
from labels.rules.facts import Fact
from labels.rules.tables import type_sizes

PI = Decimal("3.141592653589793238462643383279502884")
SQ_MM_PER_SQ_IN = Decimal("645.16")
FORTY = Decimal(40)

INGREDIENT_LETTER_MM = Decimal("1.6")
"""1/16 in, 21 CFR 701.3(b), in mm rounded up."""

SMALL_INGREDIENT_LETTER_MM = Decimal("0.8")
"""1/32 in, 21 CFR 701.3(p), in mm rounded up."""

SMALL_SURFACE_SQ_IN = Decimal(12)
"""Total surface under which the smaller letters are allowed, 21 CFR 701.3(p)."""


@dataclass(frozen=True, slots=True)
class TypeSize:
    """Least height of the net contents in mm, rounded up from the inch, with the band that gives it."""

    height_mm: Decimal
    fraction: str
    panel_sq_mm: Decimal
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class LetterSize:
    """Least height of the ingredient list's letters in mm; fact: what is to be confirmed first, or None."""

    height_mm: Decimal
    source: str
    fact: Fact | None = None


def panel_sq_mm(
    shape: str,
    width_mm: Decimal | None,
    height_mm: Decimal | None,
    depth_mm: Decimal | None = None,
) -> Decimal | None:
    """Area of the principal display panel in square mm, 21 CFR 701.10; None where a measure is missing.

    shape "round tin": the lid, width its diameter. "cylinder": 40 % of height times circumference, width
    the diameter, height without shoulder and neck. "box": the whole front. "wrap", "other": 40 % of the
    surface of a block of these measures. Raises ValueError for another shape.
    """
    if shape == "round tin":
        return None if width_mm is None else exact_product(PI, width_mm, width_mm, Decimal("0.25"))
    if shape == "cylinder":
        if width_mm is None or height_mm is None:
            return None
        return percent_of(FORTY, exact_product(PI, width_mm, height_mm))
    if shape == "box":
        return None if width_mm is None or height_mm is None else exact_product(width_mm, height_mm)
    if shape in ("wrap", "other"):
        surface = surface_sq_mm(shape, width_mm, height_mm, depth_mm)
        return None if surface is None else percent_of(FORTY, surface)
    raise ValueError(f"no panel is known for the shape {shape!r}")


def surface_sq_mm(
    shape: str,
    width_mm: Decimal | None,
    height_mm: Decimal | None,
    depth_mm: Decimal | None = None,
) -> Decimal | None:
    """Whole surface in square mm, None where a measure is missing: what could carry a label, at the most."""
    if shape in ("round tin", "cylinder"):
        if width_mm is None or height_mm is None:
            return None
        ends = exact_product(PI, width_mm, width_mm, Decimal("0.5"))
        return exact_sum((ends, exact_product(PI, width_mm, height_mm)))
    if width_mm is None or height_mm is None or depth_mm is None:
        return None
    pairs = ((width_mm, height_mm), (width_mm, depth_mm), (height_mm, depth_mm))
    return exact_product(Decimal(2), exact_sum(exact_product(*pair) for pair in pairs))


def us_type_size(panel: Decimal, *, moulded: bool = False) -> TypeSize:
    """Least height of the net contents for a panel of so many square mm, 21 CFR 701.13(i).

    moulded: blown, embossed or moulded letters stand 1/16 in higher; for cosmetics the cautious choice.
    """
    for band in type_sizes():
        if band.up_to_sq_in is None or panel <= exact_product(band.up_to_sq_in, SQ_MM_PER_SQ_IN):
            height = band.moulded_height_mm if moulded else band.height_mm
            return TypeSize(height, band.fraction, panel, "21 CFR 701.13(i)", band.basis)
    raise AssertionError("the last band has no end")


def us_ingredient_letters(surface: Decimal | None) -> LetterSize:
    """Least letter height of the ingredient list for a total surface in square mm; None: not known."""
    if surface is not None and surface < exact_product(SMALL_SURFACE_SQ_IN, SQ_MM_PER_SQ_IN):
        text = "A pack with less than 12 sq in to label may have ingredient letters of 1/32 in."
        fact = Fact("us-small-letters", text, "21 CFR 701.3(p)")
        return LetterSize(SMALL_INGREDIENT_LETTER_MM, "21 CFR 701.3(p)", fact)
    return LetterSize(INGREDIENT_LETTER_MM, "21 CFR 701.3(b)")
