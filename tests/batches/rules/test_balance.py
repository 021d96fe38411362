"""Yields and accounts: the worked traceability example, figures by hand.

Definitions: theoretical and actual yield 21 CFR 210.3(b)(17)-(19) (read); lot reconciliation 21 CFR 211.184
(read).
"""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from batches.rules import lot_account
from batches.rules.balance import BatchFigures, UnitFigures, account, sentences, theoretical_units, yields

D = Decimal
B1 = BatchFigures(
    D(10_000),
    bulk_g=D(9800),
    waste_g=D(170),
    packs_g=D(9540),
    rework_g=D(200),
    samples_g=D(50),
    fill_loss_g=D(10),
)
B2 = BatchFigures(
    D(8000), bulk_g=D(7860), waste_g=D(120), packs_g=D(7740), samples_g=D(40), fill_loss_g=D(80)
)
GRAMS = st.decimals(0, 5000, places=1)


def test_yields_of_b1() -> None:
    """Bulk 98 %; 200 units in theory, 190 filled 95 %, 185 for sale 92.5 %; 99.7 % accounted, 0.30 % not."""
    found = yields(B1, fill_g=D(50), filled_units=190, for_sale_units=185)

    assert theoretical_units(D(10_000), D(50)) == 200
    assert (found.bulk, found.filled, found.for_sale) == (D(98), D(95), D("92.5"))
    assert (account(B1).process_accounted, found.unaccounted) == (D("99.7"), D("0.3"))
    assert account(B1).process_unaccounted_g == 30


def test_yields_of_b2() -> None:
    """Bulk 98.25 %; 160 units in theory, 154 filled 96.25 %, 150 for sale 93.75 %; 99.75 % accounted."""
    found = yields(B2, fill_g=D(50), filled_units=154, for_sale_units=150)

    assert theoretical_units(D(8000), D(50)) == 160
    assert (found.bulk, found.filled, found.for_sale) == (D("98.25"), D("96.25"), D("93.75"))
    assert (account(B2).process_accounted, found.unaccounted) == (D("99.75"), D("0.25"))


def test_both_bulk_balances_close_to_zero() -> None:
    """9,540 + 50 + 200 + 10 = 9,800; 7,740 + 40 + 80 = 7,860."""
    assert account(B1).bulk_left_g == 0
    assert account(B2).bulk_left_g == 0
    assert sentences(B1) == (
        "10000 g went in, 9970 g accounted for: 30 g missing.",
        "9800 g of bulk, all accounted for.",
    )


def test_lot_balance_of_the_oil() -> None:
    """L1: 15,000 - 12,600 - 100 = 2,300 in the book, 2,290 counted: -10 g, 99.933 % accounted."""
    sums = lot_account.account(
        [
            lot_account.Move("received", D(15_000)),
            lot_account.Move("weighed", D(-7000)),
            lot_account.Move("weighed", D(-5600)),
            lot_account.Move("wasted", D(-100)),
            lot_account.Move("counted", D(-10)),
        ]
    )

    assert (sums.here, sums.counted) == (D(2290), D(-10))
    assert sums.accounted_percent is not None
    assert round(sums.accounted_percent, 3) == D("99.933")


def test_unit_balances_of_both_batches() -> None:
    """190 = 175 + 5 + 5 + 3 + 2; 154 = 120 + 30 + 3 + 1."""
    one = UnitFigures(190, with_recipients=175, returned=5, on_shelf=5, retained=3, destroyed=2)
    two = UnitFigures(154, with_recipients=120, on_shelf=30, retained=3, destroyed=1)

    assert (one.missing, one.accounted) == (0, D(100))
    assert (two.missing, two.accounted) == (0, D(100))


def test_a_pack_that_nobody_can_place_is_missing() -> None:
    """165 of 166: 99.4 %."""
    units = UnitFigures(166, with_recipients=137, on_shelf=24, retained=4)

    assert units.missing == 1
    assert units.accounted is not None
    assert round(units.accounted, 1) == D("99.4")


def test_a_bulk_not_weighed_yet_has_no_yield() -> None:
    """Unknown is never zero."""
    figures = BatchFigures(D(100))

    assert account(figures).process_unaccounted_g is None
    assert yields(figures, fill_g=D(50), filled_units=0, for_sale_units=0).bulk is None
    assert sentences(figures) == ("100 g went in; the bulk was not weighed yet.",)


def test_more_out_than_in_is_said_too() -> None:
    """Too high counts as well as too low (21 CFR 211.192, read)."""
    assert sentences(BatchFigures(D(100), bulk_g=D(103)))[0] == (
        "100 g went in, 103 g accounted for: 3 g too many."
    )


@given(went_in=st.decimals("0.1", 9000, places=1), bulk=GRAMS, waste=GRAMS, packs=GRAMS, rework=GRAMS)
def test_every_gram_is_in_one_place(
    went_in: Decimal, bulk: Decimal, waste: Decimal, packs: Decimal, rework: Decimal
) -> None:
    """What is known and what is not make the whole, in both phases."""
    sums = account(BatchFigures(went_in, bulk_g=bulk, waste_g=waste, packs_g=packs, rework_g=rework))

    assert sums.process_unaccounted_g is not None
    assert sums.bulk_left_g is not None
    assert bulk + waste + sums.process_unaccounted_g == went_in
    assert sums.bulk_taken_g + sums.bulk_left_g == bulk
