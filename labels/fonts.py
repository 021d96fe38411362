"""The face that labels are set in: Open Sans, installed as a package, embedded in every PDF."""

from __future__ import annotations

from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import Any

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from labels.rules.fitting import MissingGlyphs, missing_glyphs

REGULAR, BOLD = "OpenSans", "OpenSans-SemiBold"
MM_PER_PT = Decimal("25.4") / Decimal(72)
_FILES = {REGULAR: "OpenSans-Regular.ttf", BOLD: "OpenSans-SemiBold.ttf"}


@cache
def faces() -> dict[str, Any]:
    """Register both weights with the PDF library, once, and give their faces."""
    folder = files("ttf_opensans") / "ttf"
    for name, file in _FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))
    fonts: dict[str, Any] = {name: pdfmetrics.getFont(name) for name in _FILES}
    return {name: font.face for name, font in fonts.items()}


def width_mm(text: str, size_pt: Decimal, *, bold: bool = False) -> Decimal:
    """How wide a text stands, in mm."""
    faces()
    thousandths = pdfmetrics.stringWidth(text, BOLD if bold else REGULAR, 1000)
    return Decimal(str(round(thousandths, 3))) / 1000 * size_pt * MM_PER_PT


def not_drawn(text: str) -> MissingGlyphs:
    """Characters that the face doesn't have, each once."""
    return missing_glyphs(text, faces()[REGULAR].charToGlyph)
