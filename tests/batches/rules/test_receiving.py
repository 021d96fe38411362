"""Freight shared over lines, lot numbers compared."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.rules.receiving import names_another_lot, share_by_value

MONEY = st.decimals(min_value=0, max_value=1_000_000, places=4)


def test_freight_is_shared_in_proportion_to_the_cost() -> None:
    """90 + 45 + 75 with 21 freight come to 99, 49.50 and 82.50 (worked by hand: 10 %)."""
    shares = share_by_value(Decimal(21), [Decimal(90), Decimal(45), Decimal(75)])

    assert [Decimal(9), Decimal("4.5"), Decimal("7.5")] == shares


def test_what_does_not_divide_goes_to_the_costliest_line() -> None:
    """1.00 over three equal lines: the first of them takes the odd 0.0001."""
    shares = share_by_value(Decimal(1), [Decimal(5), Decimal(5), Decimal(5)])

    assert [Decimal("0.3334"), Decimal("0.3333"), Decimal("0.3333")] == shares


def test_freight_on_a_parcel_of_gifts_is_shared_equally() -> None:
    """Where every line was free there is no value to share by."""
    assert [Decimal(2), Decimal(2)] == share_by_value(Decimal(4), [Decimal(0), Decimal(0)])


@given(freight=MONEY, costs=st.lists(MONEY, min_size=1, max_size=30))
def test_shares_add_up_to_the_freight_exactly(freight: Decimal, costs: list[Decimal]) -> None:
    """Nothing of the freight is lost or made, and no share is below 0."""
    shares = share_by_value(freight, costs)

    assert freight == sum(shares)
    assert min(shares) >= 0


def test_no_line_takes_no_freight() -> None:
    """There is nothing to share over."""
    with pytest.raises(ValueError, match="at least one line"):
        share_by_value(Decimal(4), [])


@pytest.mark.parametrize(
    ("on_certificate", "supplier_lot", "another"),
    [
        ("AB-114", "AB-114", False),
        ("Lot ab-114", "AB-114", False),
        ("Batch: AB 114", "AB114", False),
        ("AB-115", "AB-114", True),
        ("AB-114", "AB-1140", True),
        ("", "AB-114", False),
        ("AB-114", "", False),
        ("LOT", "LOT", False),
    ],
)
def test_a_certificate_of_another_lot_is_told_by_its_number(
    on_certificate: str, supplier_lot: str, another: bool
) -> None:
    """Case, blanks and the word before the number don't matter; an empty number says nothing."""
    assert another is names_another_lot(on_certificate, supplier_lot)
