"""Packs against their label by the mass that went into all of them.

The mean may not be below the label: Dir 76/211/EEC Annex I 1.1; 16 CFR 500.25(c). Figures worked by hand; the
ounce is exactly 28.349523125 g (NIST SP 811 B.8).
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.rules.pack_fill import less_than_labelled, nominal_g

D = Decimal


def said(units: int, grams: str, net: str = "50", unit: str = "g", fill: str = "50") -> str:
    """The sentence about some packs."""
    return less_than_labelled(units=units, grams=D(grams), net_amount=D(net), net_unit=unit, fill_g=D(fill))


@pytest.mark.parametrize(
    ("net", "unit", "grams"),
    [("50", "g", "50"), ("2", "oz", "56.699046250"), ("30", "ml", None), ("1", "fl oz", None)],
)
def test_only_a_mass_has_grams(net: str, unit: str, grams: str | None) -> None:
    """A volume needs a density: unknown, not 0."""
    assert nominal_g(D(net), unit) == (None if grams is None else D(grams))


def test_the_figures_of_what_is_short_are_said() -> None:
    """510 / 11 = 46.3636…, shown rounded down."""
    assert said(11, "510") == "510 g in 11 packs is 46.36 g each; the label says 50 g."
    assert said(11, "510.5") == "510.5 g in 11 packs is 46.40 g each; the label says 50 g."
    assert said(1, "46.5") == "46.5 g in 1 pack; the label says 50 g."


@pytest.mark.parametrize(("grams", "short"), [("549.9999", True), ("550", False), ("550.0001", False)])
def test_at_the_label_is_enough(grams: str, short: bool) -> None:
    """Less is strict, on unrounded values; the figure shown never reaches the label."""
    assert bool(said(11, grams)) is short
    assert not short or "is 49.99 g each" in said(11, grams)


def test_ounces_are_as_exact_as_the_book() -> None:
    """Ten times 2 oz are 566.9904625 g; the book keeps 0.0001 g, so 566.9904 is as good as can be written."""
    assert said(10, "566.9904", "2", "oz") == ""
    assert said(10, "566.9903", "2", "oz") == (
        "566.9903 g in 10 packs is 56.69 g each; the label says 2 oz, 56.6991 g."
    )


def test_by_volume_the_fill_weight_is_asked_and_the_rest_is_unknown() -> None:
    """30 ml of an oil filled with 27.6 g."""
    assert said(10, "276", "30", "ml", "27.6") == ""
    assert said(10, "270", "30", "ml", "27.6") == (
        "270 g in 10 packs is 27 g each; each is to be filled with 27.6 g. The label says 30 ml: whether that is "
        "in isn't known by weight."
    )


def test_no_packs_are_no_question() -> None:
    """A programmer's mistake."""
    with pytest.raises(ValueError, match="no packs"):
        said(0, "10")


@given(
    st.integers(1, 5000),
    st.decimals("0.0001", "100000", places=4),
    st.decimals("0.001", "1000", places=3),
)
def test_it_speaks_exactly_where_the_mean_is_below(units: int, grams: Decimal, net: Decimal) -> None:
    """By cross-multiplying, which loses nothing."""
    assert bool(said(units, str(grams), str(net))) is (grams < units * net)
