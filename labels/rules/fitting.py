"""Fitting text on a label, in millimetres and points.

Widths come from a function that knows the font; heights from the font's measured ratios.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Sequence
from dataclasses import dataclass
from decimal import Decimal

from formulas.rules.number import exact_product, round_down, round_up

PT_PER_INCH = Decimal(72)
MM_PER_INCH = Decimal("25.4")
SIZE_STEP = Decimal("0.05")
"""Steps in which sizes are tried, points."""

LEADING = Decimal("1.2")
"""Distance of lines as a multiple of the size; a habit of typesetting, no rule."""

READABLE_X_MM = Decimal("1.2")
SMALL_PACK_READABLE_X_MM = Decimal("0.9")
SMALL_PACK_SQ_MM = Decimal(8000)
"""x-height of 1.2 mm, 0.9 mm on packs under 80 square cm. The cosmetics act asks for "easily legible" and
gives no figure: these are the ones of food labels (Reg (EU) 1169/2011 Art. 13, from memory), a house rule."""

WidthOf = Callable[[str, Decimal], Decimal]
"""(text, size in points) -> width in mm."""

MissingGlyphs = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FontRatios:
    """Heights as a share of the size: lower-case x, capital H, the lowest digit."""

    name: str
    x: Decimal
    capital: Decimal
    digit: Decimal


OPEN_SANS = FontRatios("Open Sans", Decimal("0.5352"), Decimal("0.7139"), Decimal("0.7251"))
"""Measured on the outlines of the font that labels are set in."""


@dataclass(frozen=True, slots=True)
class Fitted:
    """Text broken into lines at one size.

    size_pt: points. height_mm: of all lines. overflow: words wider than the line, which nothing could
    break. fits: inside the room, at a lawful size.
    """

    lines: tuple[str, ...]
    size_pt: Decimal
    height_mm: Decimal
    overflow: tuple[str, ...]
    fits: bool


def height_mm(ratio: Decimal, size_pt: Decimal) -> Decimal:
    """Height on paper of a letter with this ratio, rounded down to 0.001 mm: never flattered."""
    return round_down(exact_product(ratio, size_pt, MM_PER_INCH) / PT_PER_INCH, 3)


def size_for(ratio: Decimal, height: Decimal) -> Decimal:
    """The smallest size, in steps of 0.05 pt, at which a letter of this ratio stands ``height`` mm high."""
    exact = exact_product(height, PT_PER_INCH) / exact_product(ratio, MM_PER_INCH)
    size = exact_product(round_up(exact / SIZE_STEP, 0), SIZE_STEP)
    while exact_product(ratio, size, MM_PER_INCH) < exact_product(height, PT_PER_INCH):
        size += SIZE_STEP
    return size


def smallest_text_size(
    market: str,
    font: FontRatios = OPEN_SANS,
    *,
    letter_mm: Decimal | None = None,
    pack_sq_mm: Decimal | None = None,
) -> Decimal:
    """Smallest size in points for the ingredient list and other small text.

    US: ``letter_mm`` (the rule's height, see panel.us_ingredient_letters) measured on the lower-case
    letters of mixed text, 21 CFR 701.13(h). Elsewhere the house rule READABLE_X_MM. Raises ValueError for
    the US without a letter height.
    """
    if market == "US":
        if letter_mm is None:
            raise ValueError("the US give a letter height: hand it over")
        return size_for(font.x, letter_mm)
    small = pack_sq_mm is not None and pack_sq_mm < SMALL_PACK_SQ_MM
    return size_for(font.x, SMALL_PACK_READABLE_X_MM if small else READABLE_X_MM)


def digits_size(height: Decimal, font: FontRatios = OPEN_SANS) -> Decimal:
    """Smallest size in points at which digits stand ``height`` mm high."""
    return size_for(font.digit, height)


def wrap(
    text: str, width_mm: Decimal, size_pt: Decimal, width_of: WidthOf
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """(lines, words that are wider than the line). Breaks at spaces, else after "/" and "-".

    Lines joined by a space, or by nothing after a broken word, give the text again; line ends in the text
    are kept.
    """
    lines: list[str] = []
    overflow: list[str] = []
    for paragraph in text.splitlines():
        line = ""
        for piece, glue in _pieces(paragraph, width_mm, size_pt, width_of):
            longer = f"{line}{glue}{piece}" if line else piece
            if line and width_of(longer, size_pt) > width_mm:
                lines.append(line)
                line = piece
            else:
                line = longer
            if width_of(piece, size_pt) > width_mm:
                overflow.append(piece)
        lines.append(line)
    return tuple(lines), tuple(overflow)


def fit(
    text: str,
    width_mm: Decimal,
    room_mm: Decimal,
    width_of: WidthOf,
    *,
    smallest_pt: Decimal,
    largest_pt: Decimal,
    leading: Decimal = LEADING,
) -> Fitted:
    """The text at the largest size that keeps within width and height, from largest down to smallest.

    Where even the smallest is too large, the text at the smallest size with ``fits`` False: letters are
    never set below what the rule asks. Raises ValueError when smallest is above largest.
    """
    if smallest_pt > largest_pt:
        raise ValueError("the smallest size is above the largest")
    low, high = 0, int((largest_pt - smallest_pt) // SIZE_STEP)
    best = _at(text, width_mm, room_mm, width_of, smallest_pt, leading)
    while best.fits and low < high:
        middle = (low + high + 1) // 2
        size = smallest_pt + SIZE_STEP * middle
        tried = _at(text, width_mm, room_mm, width_of, size, leading)
        if tried.fits:
            best, low = tried, middle
        else:
            high = middle - 1
    return best


def missing_glyphs(text: str, glyphs: Container[int]) -> MissingGlyphs:
    """Characters of the text that a font with these code points can't draw, each once, in order."""
    return tuple(dict.fromkeys(sign for sign in text if not sign.isspace() and ord(sign) not in glyphs))


def _at(
    text: str, width_mm: Decimal, room_mm: Decimal, width_of: WidthOf, size_pt: Decimal, leading: Decimal
) -> Fitted:
    lines, overflow = wrap(text, width_mm, size_pt, width_of)
    height = round_up(exact_product(Decimal(len(lines)), size_pt, leading, MM_PER_INCH) / PT_PER_INCH, 3)
    return Fitted(lines, size_pt, height, overflow, height <= room_mm and not overflow)


def _pieces(
    paragraph: str, width_mm: Decimal, size_pt: Decimal, width_of: WidthOf
) -> Sequence[tuple[str, str]]:
    """Words with what joins them to the one before; a word wider than the line is broken at "/" or "-"."""
    pieces: list[tuple[str, str]] = []
    for word in paragraph.split(" "):
        if not word:
            continue
        if width_of(word, size_pt) <= width_mm:
            pieces.append((word, " "))
            continue
        start, first = 0, True
        for index, sign in enumerate(word):
            if sign in "/-" or index == len(word) - 1:
                pieces.append((word[start : index + 1], " " if first else ""))
                start, first = index + 1, False
    return pieces
