"""What the lots in a pot cost.

The figures are reckoned by hand beside each test; that a charge of good output bears normal losses is common
practice, no source.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.rules.lot_cost import Bought, Made, Pot, Went, per_pack, pot_cost

OIL = Bought("L1", Decimal(5000), Decimal("31.00"), "EUR")
PETALS = Bought("L2", Decimal(500), Decimal("20.00"), "GBP", Decimal("1.2"))
WAX = Bought("L3", Decimal(1000), Decimal("18.00"), "EUR")
SHELF = Bought("L4", Decimal(300), None)


def test_a_lot_costs_by_its_share_and_its_rate() -> None:
    """1,000 g of 6.20 a kg and 100 g of 20.00 × 1.2 for 500 g: 6.20 + 4.80."""
    found = pot_cost(
        "B1", {"B1": Pot("B1", (Went("L1", Decimal(1000)), Went("L2", Decimal(100))), None)}, LOTS
    )

    assert [share.cost for share in found.shares] == [Fraction("6.2"), Fraction("4.8")]
    assert found.at_least == 11
    assert found.is_complete


LOTS: dict[str, Bought | Made] = {
    "L1": OIL,
    "L2": PETALS,
    "L3": WAX,
    "L4": SHELF,
    "L5": Made("L5", "B1"),
    "L6": Made("L6", "B2"),
}


def test_what_was_made_here_bears_what_was_lost_in_making_it() -> None:
    """11.00 for 1,100 g of which 1,000 g were left: 0.011 a gram; 400 g of it with 100 g of wax are 4.40 + 1.80."""
    pots = {
        "B1": Pot("B1", (Went("L1", Decimal(1000)), Went("L2", Decimal(100))), Decimal(1000)),
        "B2": Pot("B2", (Went("L5", Decimal(400)), Went("L3", Decimal(100))), Decimal(480)),
    }

    found = pot_cost("B2", pots, LOTS)

    assert [share.cost for share in found.shares] == [Fraction("4.4"), Fraction("1.8")]
    assert found.at_least == Fraction("6.2")


def test_a_lot_without_cost_is_named_through_every_depth_and_never_free() -> None:
    """The lot counted in on the first day, in an infusion, in rework."""
    pots = {
        "B1": Pot("B1", (Went("L1", Decimal(1000)), Went("L4", Decimal(100))), Decimal(1000)),
        "B2": Pot("B2", (Went("L5", Decimal(500)),), Decimal(500)),
        "B3": Pot("B3", (Went("L6", Decimal(500)), Went("L3", Decimal(100))), None),
    }

    found = pot_cost("B3", pots, LOTS)

    assert found.missing == ("L4",)
    assert not found.is_complete
    assert found.shares[0].cost is None
    assert found.at_least == Fraction("3.1") + Fraction("1.8")


def test_a_foreign_invoice_without_a_rate_is_missing() -> None:
    lots: dict[str, Bought | Made] = {"L2": Bought("L2", Decimal(500), Decimal(20), "GBP", None)}

    assert pot_cost("B1", {"B1": Pot("B1", (Went("L2", Decimal(1)),), None)}, lots).missing == ("L2",)


def test_a_lot_of_a_batch_whose_bulk_nobody_weighed_is_missing() -> None:
    pots = {
        "B1": Pot("B1", (Went("L1", Decimal(10)),), None),
        "B2": Pot("B2", (Went("L5", Decimal(5)),), Decimal(5)),
    }

    assert pot_cost("B2", pots, LOTS).missing == ("L5",)


def test_a_batch_that_holds_itself_is_refused() -> None:
    pots = {"B1": Pot("B1", (Went("L5", Decimal(5)),), Decimal(5))}

    with pytest.raises(ValueError, match="B1 → B1"):
        pot_cost("B1", pots, LOTS)


def test_packs_bear_samples_and_losses_but_not_what_was_set_aside() -> None:
    """20.00 for 1,000 g, 100 g set aside, 15 packs: 18.00 over 15."""
    assert per_pack(Fraction(20), Decimal(1000), Decimal(100), 15) == Fraction("1.2")
    with pytest.raises(ValueError, match="above 0"):
        per_pack(Fraction(20), Decimal(1000), Decimal(0), 0)


@given(st.lists(st.integers(1, 10**7), min_size=1, max_size=6), st.integers(1, 100))
def test_money_is_conserved_where_nothing_is_lost(grams: list[int], depth: int) -> None:
    """A chain of batches in which each takes all of the one before costs what was bought, to the last fraction."""
    amounts = [Decimal(each) / 10000 for each in grams]
    bought = {f"L{n}": Bought(f"L{n}", amount, Decimal(n + 1)) for n, amount in enumerate(amounts)}
    lots: dict[str, Bought | Made] = dict(bought)
    whole = sum(amounts, Decimal(0))
    pots = {"B0": Pot("B0", tuple(Went(code, lot.quantity) for code, lot in bought.items()), whole)}
    for level in range(1, depth % 7 + 1):
        lots[f"M{level}"] = Made(f"M{level}", f"B{level - 1}")
        pots[f"B{level}"] = Pot(f"B{level}", (Went(f"M{level}", whole),), whole)

    found = pot_cost(f"B{depth % 7}", pots, lots)

    assert found.at_least == sum(range(1, len(grams) + 1))
