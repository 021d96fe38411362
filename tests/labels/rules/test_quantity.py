"""Net quantity: Dir 76/211/EEC, 15 USC 1453, 21 CFR 701.13, 16 CFR 500.19."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labels.rules.quantity import (
    GRAMS_PER_OUNCE,
    ML_PER_FLUID_OUNCE,
    eu_net_quantity,
    us_net_contents,
)

# 15 USC 1453(a)(2), (3); 21 CFR 701.13(d), (j), (k); 16 CFR 500.19(b), 500.23(a): rounded down.
DUAL = [
    ("100", "g", "Net Wt 3.5 oz (100 g)"),
    ("50", "g", "Net Wt 1.7 oz (50 g)"),
    ("10", "g", "Net Wt 0.35 oz (10 g)"),
    ("250", "g", "Net Wt 8.8 oz (250 g)"),
    ("2", "oz", "Net Wt 2 oz (56 g)"),
    ("4", "oz", "Net Wt 4 oz (113 g)"),
    ("16", "oz", "Net Wt 16 oz (1 lb) 453 g"),
    ("500", "g", "Net Wt 17.6 oz (1 lb 1.6 oz) 500 g"),
    ("1", "kg", "Net Wt 35.2 oz (2 lb 3.2 oz) 1 kg"),
    ("2", "kg", "Net Wt 4 lb 6.5 oz (2 kg)"),
    ("4", "lb", "Net Wt 4 lb (1.81 kg)"),
    ("72", "oz", "Net Wt 4 lb 8 oz (2.04 kg)"),
    ("36", "oz", "Net Wt 36 oz (2 lb 4 oz) 1.02 kg"),
    ("35.3", "oz", "Net Wt 35.3 oz (2 lb 3.3 oz) 1 kg"),
    ("1", "gal", "1 gal (3.78 L)"),
    ("36", "fl oz", "36 fl oz (1 qt 4 fl oz) 1.06 L"),
    ("30", "ml", "1 fl oz (30 mL)"),
    ("50", "ml", "1.6 fl oz (50 mL)"),
    ("100", "ml", "3.3 fl oz (100 mL)"),
    ("500", "ml", "16.9 fl oz (1 pt 0.9 fl oz) 500 mL"),
    ("4", "fl oz", "4 fl oz (118 mL)"),
    ("999.9", "g", "Net Wt 35.2 oz (2 lb 3.2 oz) 999 g"),
]


@pytest.mark.parametrize(("declared", "unit", "text"), DUAL)
def test_both_systems_and_none_says_too_much(declared: str, unit: str, text: str) -> None:
    """Each row of the worked table, figures before rounding down computed by hand."""
    assert us_net_contents(Decimal(declared), unit).text == text


@given(grams=st.decimals("0.1", "50000", places=1))
def test_the_converted_figure_never_exceeds_the_declared_one(grams: Decimal) -> None:
    """Ounces printed for grams, turned back, are within the grams."""
    words = us_net_contents(grams, "g").text.removeprefix("Net Wt ").split()
    if "lb" in words[:2]:
        ounces = Decimal(words[0]) * 16 + (Decimal(words[2]) if words[3:4] == ["oz"] else 0)
    else:
        ounces = Decimal(words[0])

    assert ounces * GRAMS_PER_OUNCE <= grams


def test_factors_agree_with_the_printed_ones() -> None:
    """16 CFR 500.19(a), older table: 28.3495 g, 453.592 g, 29.5735 mL, 3.78541 L."""
    assert round(GRAMS_PER_OUNCE, 4) == Decimal("28.3495")
    assert round(GRAMS_PER_OUNCE * 16, 3) == Decimal("453.592")
    assert round(ML_PER_FLUID_OUNCE, 4) == Decimal("29.5735")
    assert round(ML_PER_FLUID_OUNCE * 128 / 1000, 5) == Decimal("3.78541")


@pytest.mark.parametrize(
    ("amount", "unit", "text", "height"),
    [
        ("50", "g", "50 g", "2"),
        ("50.1", "g", "50.1 g", "3"),
        ("200", "ml", "200 ml", "3"),
        ("201", "ml", "201 ml", "4"),
        ("1000", "g", "1 kg", "4"),
        ("1500", "g", "1.5 kg", "6"),
        ("2", "oz", "56 g", "3"),
    ],
)
def test_eu_quantity_and_height_of_its_digits(amount: str, unit: str, text: str, height: str) -> None:
    """Dir 76/211/EEC Annex I 3.1 (Austrian FPVO 11): 2, 3, 4, 6 mm; the upper end of a band is in it."""
    quantity = eu_net_quantity(Decimal(amount), unit)

    assert (quantity.text, quantity.figure_height_mm) == (text, Decimal(height))


def test_decimal_mark_is_the_languages() -> None:
    """A comma where the label's language writes one."""
    assert eu_net_quantity(Decimal("1500"), "g", decimal_mark=",").text == "1,5 kg"


@pytest.mark.parametrize(("amount", "required"), [("4.9", False), ("5", True)])
def test_below_five_grams_nothing_is_asked(amount: str, required: bool) -> None:
    """Reg (EC) 1223/2009 Art. 19(1)(b): less than 5 g or 5 ml."""
    assert eu_net_quantity(Decimal(amount), "g").required is required


@pytest.mark.parametrize(("amount", "unit"), [("0", "g"), ("-1", "ml"), ("5", "dram")])
def test_nothing_negative_and_no_other_unit(amount: str, unit: str) -> None:
    """A quantity is above 0 and in a unit that is held."""
    with pytest.raises(ValueError, match=r"above 0|none of"):
        us_net_contents(Decimal(amount), unit)
    with pytest.raises(ValueError, match=r"above 0|none of"):
        eu_net_quantity(Decimal(amount), unit)
