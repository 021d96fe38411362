"""Solid fat over temperature as a drawing: the band, its middle, and how much solid fat reads as what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from formulas.rules.firmness import FIRM, HARD, OILY, SPREADABLE, TEMPERATURES, Band
from formulas.rules.number import HUNDRED, RATIO_UP, ZERO, difference, exact_product, exact_sum, figure

CURVE = tuple(Decimal(20) + Decimal("2.5") * step for step in range(7))
"""Degrees Celsius at which the curve is worked out: 20 to 35."""

READINGS: tuple[tuple[str, Decimal, Decimal], ...] = (
    ("hard", HARD, HUNDRED),
    ("firm", FIRM, HARD),
    ("spreadable", SPREADABLE, FIRM),
    ("soft", OILY, SPREADABLE),
    ("oily", ZERO, OILY),
)
"""A word and the % solid fat from and to which it holds."""

Point = tuple[Decimal, Decimal]


@dataclass(frozen=True, slots=True)
class FirmnessDrawing:
    """In the drawing's own units. area: the band, closed; middle: the typical figures, "" where there are none.

    levels: the height at which each reading ends below. words, degrees: text with its place. bears_x: the
    warmest temperature up to which it surely stays spreadable, None without one. title: the same in words.
    """

    width: int
    height: int
    title: str
    area: str
    middle: str
    levels: tuple[Decimal, ...]
    words: tuple[tuple[Decimal, str], ...]
    degrees: tuple[tuple[Decimal, str], ...]
    left: int
    right: int
    floor: int
    bears_x: Decimal | None
    bears: str


def draw(
    curve: Sequence[Band],
    bears: Decimal | None,
    *,
    width: int = 360,
    height: int = 210,
    left: int = 12,
    right: int = 82,
    foot: int = 22,
) -> FirmnessDrawing | None:
    """The band over 20 to 35 °C, warm to the right, firm above; None where it isn't covered."""
    ends = [(band, band.low, band.high) for band in curve]
    if not ends or any(low is None or high is None for _, low, high in ends):
        return None
    floor, edge = height - foot, width - right

    def x(celsius: Decimal) -> Decimal:
        return _scaled(difference(celsius, CURVE[0]), difference(CURVE[-1], CURVE[0]), edge - left, left)

    def y(solid: Decimal) -> Decimal:
        return _scaled(difference(HUNDRED, solid), HUNDRED, floor, 0)

    upper = [f"{x(band.temperature_c)},{y(high or ZERO)}" for band, _, high in ends]
    lower = [f"{x(band.temperature_c)},{y(low or ZERO)}" for band, low, _ in reversed(ends)]
    usual = [(band.temperature_c, band.typical) for band in curve if band.typical is not None]
    middle = [f"{x(celsius)},{y(solid)}" for celsius, solid in usual] if len(usual) == len(ends) else []
    looked_at = [band for band in curve if band.temperature_c in TEMPERATURES]
    return FirmnessDrawing(
        width=width,
        height=height,
        title="; ".join(f"{figure(band.temperature_c)} °C: {band.reading}" for band in looked_at),
        area=f"M{' '.join([*upper, *lower])}Z",
        middle=f"M{' '.join(middle)}" if middle else "",
        levels=tuple(y(lowest) for _, lowest, _ in READINGS),
        words=tuple((_middle(y(lowest), y(highest)), word) for word, lowest, highest in READINGS),
        degrees=tuple((x(celsius), f"{figure(celsius)} °C") for celsius in TEMPERATURES),
        left=left,
        right=edge,
        floor=floor,
        bears_x=None if bears is None else x(bears),
        bears="" if bears is None else figure(bears),
    )


def _scaled(part: Decimal, whole: Decimal, length: int, start: int) -> Decimal:
    """A place along a length, to a tenth of a unit."""
    along = RATIO_UP.divide(exact_product(part, Decimal(length)), whole)
    return exact_sum((along, Decimal(start))).quantize(Decimal("0.1"))


def _middle(one: Decimal, other: Decimal) -> Decimal:
    return exact_product(exact_sum((one, other)), Decimal("0.5")).quantize(Decimal("0.1"))
