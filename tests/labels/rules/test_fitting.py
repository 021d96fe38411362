"""Fitting text: arithmetic of points and millimetres, no outside source but the inch of 25.4 mm."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labels.rules.fitting import (
    OPEN_SANS,
    READABLE_X_MM,
    digits_size,
    fit,
    height_mm,
    missing_glyphs,
    size_for,
    smallest_text_size,
    wrap,
)


def even(text: str, size_pt: Decimal) -> Decimal:
    """A font in which every sign is half as wide as the size."""
    return len(text) * size_pt / 2 * Decimal("25.4") / 72


TEXT = "Ingredients: Aqua, Caprylic/Capric Triglyceride, Glycerin, Tocopherol"


@pytest.mark.parametrize(
    ("digits_mm", "size"), [("2", "7.85"), ("3", "11.75"), ("4", "15.65"), ("6", "23.5")]
)
def test_size_for_a_height_of_digits(digits_mm: str, size: str) -> None:
    """Open Sans digit 0.7251: 2 mm x 72 / (0.7251 x 25.4) = 7.819 pt, up to the next 0.05; by hand."""
    assert digits_size(Decimal(digits_mm)) == Decimal(size)


def test_us_letters_are_measured_on_the_lower_case() -> None:
    """21 CFR 701.13(h): 1.6 mm x 72 / (0.5352 x 25.4) = 8.474 pt, up to 8.5."""
    assert smallest_text_size("US", letter_mm=Decimal("1.6")) == Decimal("8.5")
    with pytest.raises(ValueError, match="letter height"):
        smallest_text_size("US")


def test_elsewhere_the_house_rule_holds() -> None:
    """1.2 mm of x-height, 0.9 mm on packs under 80 square cm (food labels' figures, house rule)."""
    assert smallest_text_size("EU") == Decimal("6.4")
    assert smallest_text_size("EU", pack_sq_mm=Decimal(7999)) == Decimal("4.8")
    assert smallest_text_size("EU", pack_sq_mm=Decimal(8000)) == Decimal("6.4")


@given(st.decimals("0.5", "15", places=2))
def test_a_size_gives_at_least_its_height_and_no_idle_step(height: Decimal) -> None:
    """One step smaller would be too low."""
    size = size_for(OPEN_SANS.x, height)

    assert height_mm(OPEN_SANS.x, size) >= height - Decimal("0.001")
    assert height_mm(OPEN_SANS.x, size - Decimal("0.05")) < height


@given(width=st.decimals("8", "120", places=1), size=st.decimals("4", "12", places=1))
def test_wrapping_loses_no_sign_and_keeps_the_width(width: Decimal, size: Decimal) -> None:
    """The lines hold the text; only what is reported as overflow is wider."""
    lines, overflow = wrap(TEXT, width, size, even)

    assert "".join(lines).replace(" ", "") == TEXT.replace(" ", "")
    assert all(even(line, size) <= width or any(part in line for part in overflow) for line in lines)


def test_a_long_name_is_broken_after_its_stroke() -> None:
    """Caprylic/Capric goes over two lines where one is too narrow."""
    lines, overflow = wrap("Caprylic/Capric", Decimal(20), Decimal(10), even)

    assert (lines, overflow) == (("Caprylic/", "Capric"), ())


def test_the_largest_size_that_fits_is_taken() -> None:
    """One step more would be too high."""
    room = {"smallest_pt": Decimal(5), "largest_pt": Decimal(20)}

    fitted = fit(TEXT, Decimal(60), Decimal(12), even, **room)
    larger = fitted.size_pt + Decimal("0.05")

    assert fitted.fits
    assert fitted.height_mm <= 12
    assert not fit(TEXT, Decimal(60), Decimal(12), even, smallest_pt=larger, largest_pt=larger).fits


def test_what_doesnt_fit_stays_at_the_lawful_size() -> None:
    """Letters are never set smaller to make room."""
    fitted = fit(TEXT, Decimal(20), Decimal(3), even, smallest_pt=Decimal(6), largest_pt=Decimal(9))

    assert not fitted.fits
    assert fitted.size_pt == Decimal(6)
    assert fitted.height_mm > 3


def test_smallest_above_largest_is_refused() -> None:
    """The caller mixed them up."""
    with pytest.raises(ValueError, match="above the largest"):
        fit(TEXT, Decimal(20), Decimal(3), even, smallest_pt=Decimal(9), largest_pt=Decimal(6))


def test_signs_that_the_font_lacks_are_named_once() -> None:
    """A missing glyph prints as nothing, so it is reported."""
    assert missing_glyphs("Größe ẞ☐ ẞ", {ord(sign) for sign in "Größe"}) == ("ẞ", "☐")


def test_house_rule_is_stated_in_millimetres() -> None:
    """1.2 mm, and Open Sans reaches it at 6.4 pt."""
    assert height_mm(OPEN_SANS.x, Decimal("6.4")) >= READABLE_X_MM
