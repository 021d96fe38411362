"""Panel area and letters: 21 CFR 701.10, 701.13(i), 701.3(b), (p)."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labels.rules.panel import panel_sq_mm, us_ingredient_letters, us_type_size

IN = Decimal("25.4")

# 21 CFR 701.10 for the area, 701.13(i) for the height: upper ends of bands are within.
PANELS = [
    ("cylinder", 2 * IN, Decimal("1.5") * IN, "3.77", "1.6"),
    ("cylinder", Decimal(50), Decimal(120), "11.69", "3.2"),
    ("round tin", Decimal("2.5") * IN, None, "4.91", "1.6"),
    ("box", 3 * IN, 5 * IN, "15.00", "3.2"),
    ("box", 5 * IN, 5 * IN, "25.00", "3.2"),
    ("box", 5 * IN, Decimal("5.001") * IN, "25.00", "4.8"),
]


@pytest.mark.parametrize(("shape", "width", "height", "sq_in", "letters"), PANELS)
def test_panel_and_height_of_the_net_contents(
    shape: str, width: Decimal, height: Decimal | None, sq_in: str, letters: str
) -> None:
    """Each row of the worked table, areas computed by hand in square inches."""
    area = panel_sq_mm(shape, width, height)

    assert area is not None
    assert us_type_size(area).height_mm == Decimal(letters)
    assert (area / Decimal("645.16")).quantize(Decimal("0.01")) == Decimal(sq_in)


def test_block_counts_forty_percent_of_its_surface() -> None:
    """701.10: any other shape, 40 % of the total surface: 0.4 x 2 x (60x40 + 60x20 + 40x20)."""
    assert panel_sq_mm("wrap", Decimal(60), Decimal(40), Decimal(20)) == Decimal(3520)


def test_missing_measures_give_no_area() -> None:
    """Unknown is never zero."""
    assert panel_sq_mm("cylinder", Decimal(50), None) is None
    assert panel_sq_mm("wrap", Decimal(60), Decimal(40)) is None


def test_moulded_letters_stand_higher() -> None:
    """16 CFR 500.21(c): 1/16 in more; for cosmetics the cautious choice."""
    assert us_type_size(Decimal(1000), moulded=True).height_mm == Decimal("3.2")


def test_small_letters_only_under_twelve_square_inches_and_to_be_confirmed() -> None:
    """701.3(p): under 12 sq in; the 1/32 in is known from memory, so it is a fact to confirm."""
    edge = Decimal(12) * Decimal("645.16")

    assert us_ingredient_letters(edge).height_mm == Decimal("1.6")
    assert us_ingredient_letters(None).fact is None
    assert us_ingredient_letters(edge - 1).height_mm == Decimal("0.8")
    assert us_ingredient_letters(edge - 1).fact is not None
