"""The worked traceability example through actions and database; its answers computed by hand.

Source of the definitions: 21 CFR 210.3(b)(17)-(19) yields, 211.103, 211.184 reconciliation (read). The
numbers are our own. The bare links of the same example are tested in ``tests/batches/rules/test_trace.py``,
with the shares of a lot in a batch (A12 to A14).
"""

from __future__ import annotations

from collections import Counter
from datetime import date
from decimal import Decimal

import pytest

from batches.actions.tracing import write_complaint
from batches.models import Lot, Weighing
from batches.rules.balance import BatchFigures, UnitFigures, account, theoretical_units, yields
from batches.tracing import PackAccount, Trace, trace_back, trace_forward
from makers.actions.journal import chain_faults
from makers.registries import record_checks
from tests.batches.fixture import Example

pytestmark = pytest.mark.django_db
D = Decimal


def units_of(found: PackAccount) -> tuple[int, ...]:
    """Filled, with customers, returned, on the shelf, retained, destroyed."""
    return (
        found.made,
        found.with_recipients,
        found.to_judge,
        found.in_house,
        found.kept,
        found.destroyed,
    )


def forward(example: Example, *lots: str) -> Trace:
    """Where lots went."""
    return trace_forward(example.by.maker, [example.lots[name] for name in lots])


def back(example: Example, *batches: str) -> Trace:
    """What stands behind batches."""
    return trace_back(example.by.maker, [example.batches[name] for name in batches])


def codes(trace: Trace) -> list[str]:
    """The batches that a trace reached."""
    return sorted(batch.code for batch in trace.batches.values())


def by_person(trace: Trace) -> dict[str, int]:
    """Units to recover, by who has them."""
    found: Counter[str] = Counter()
    for holder in trace.holders:
        found[holder.name] += holder.units
    return dict(found)


def account_of(trace: Trace, code: str) -> PackAccount:
    """The account of the one pack of a batch."""
    (found,) = [one for one in trace.accounts if one.pack.batch.code == code]
    return found


def figures(example: Example, code: str) -> BatchFigures:
    """What the records say of a batch, as the rules take it."""
    batch = example.batches[code]
    grams = dict.fromkeys(("waste", "packs", "sample", "rework", "fill_loss"), D(0))
    for output in batch.outputs.all():
        grams[output.kind] += output.grams
    return BatchFigures(
        sum((one.grams for one in batch.weighings.all()), D(0)),
        bulk_g=batch.bulk_g,
        waste_g=grams["waste"],
        packs_g=grams["packs"],
        rework_g=grams["rework"],
        samples_g=grams["sample"],
        fill_loss_g=grams["fill_loss"],
    )


@pytest.mark.parametrize(
    ("code", "units", "for_sale", "bulk", "theory", "filled", "sale", "accounted", "open_percent"),
    [
        ("B1", 190, 185, "98", 200, "95", "92.5", "99.7", "0.30"),
        ("B2", 154, 150, "98.25", 160, "96.25", "93.75", "99.75", "0.25"),
    ],
)
def test_yields(
    example: Example,
    code: str,
    units: int,
    for_sale: int,
    bulk: str,
    theory: int,
    filled: str,
    sale: str,
    accounted: str,
    open_percent: str,
) -> None:
    """A1 and A2: B1 9,800/10,000, 190/200, 185/200; B2 7,860/8,000, 154/160, 150/160."""
    known = figures(example, code)

    found = yields(known, fill_g=D(50), filled_units=units, for_sale_units=for_sale)

    assert example.packs["P1" if code == "B1" else "P2"].units == units
    assert theoretical_units(known.went_in_g, D(50)) == theory
    assert (found.bulk, found.filled, found.for_sale) == (D(bulk), D(filled), D(sale))
    assert account(known).process_accounted == D(accounted)
    assert found.unaccounted == D(open_percent)


@pytest.mark.parametrize("code", ["B1", "B2"])
def test_bulk_balance_closes(example: Example, code: str) -> None:
    """A3: B1 9,540 + 50 + 200 + 10 = 9,800; B2 7,740 + 40 + 80 = 7,860."""
    assert account(figures(example, code)).bulk_left_g == 0


def test_lot_balance(example: Example) -> None:
    """A4: the book says 2,300 g of L1, the count 2,290: variance -10 g; L2 and L3 to the gram."""
    counted = example.lots["L1"].entries.get(kind="counted")
    accounts = {one.lot.code: one for one in forward(example, "L1", "L2", "L3").lot_accounts}

    assert counted.amount == D(-10)
    assert [example.lots[name].on_hand for name in ("L1", "L2", "L3")] == [2290, 0, 2800]
    assert [accounts[name].came_in for name in ("L1", "L2", "L3")] == [15000, 3000, 5000]
    assert [accounts[name].into_batches for name in ("L1", "L2", "L3")] == [12600, 3000, 2200]
    assert [accounts[name].other for name in ("L1", "L2", "L3")] == [110, 0, 0]
    assert [one.difference for one in accounts.values()] == [0] * len(accounts)


def test_unit_balance_of_b1(example: Example) -> None:
    """A5: 190 = 175 with customers + 5 returned + 5 shelf + 3 retained + 2 destroyed."""
    found = account_of(back(example, "B1"), "B1")

    assert units_of(found) == (190, 175, 5, 5, 3, 2)
    assert found.missing == 0
    assert UnitFigures(190, 175, 5, 5, 3, 2).missing == 0


def test_unit_balance_of_b2(example: Example) -> None:
    """A6: 154 = 120 with customers + 30 shelf + 3 retained + 1 destroyed."""
    found = account_of(back(example, "B2"), "B2")

    assert units_of(found) == (154, 120, 0, 30, 3, 1)
    assert found.missing == 0


def test_a_complaint_on_b2_leads_to_all_three_lots(db: None, example: Example) -> None:
    """A7: L1 and L3 directly; L1 and L2 through the rework of B1. The printed code finds the batch."""
    printed = example.packs["P2"].code

    complaint = write_complaint(example.by, kind="quality", words="grainy", code_given=printed)

    assert complaint.batch == example.batches["B2"]
    trace = trace_back(example.by.maker, [complaint.batch])
    uses = {(trace.lots[use.lot].code, trace.batches[use.batch].code): use.grams for use in trace.uses}
    rework = example.lots["R1"].code
    assert uses == {
        ("L1", "B1"): 7000,
        ("L2", "B1"): 3000,
        ("L1", "B2"): 5600,
        ("L3", "B2"): 2200,
        (rework, "B2"): 200,
    }
    bought = {lot.code for lot in trace.lots.values() if lot.from_batch_id is None}
    assert bought == {"L1", "L2", "L3"}
    assert example.lots["R1"].from_batch == example.batches["B1"]


def test_a_recall_of_l2_recovers_295_units(example: Example) -> None:
    """A8: 180 + 120 went out, 5 came back. B2 is reached through 200 g of B1 alone."""
    trace = forward(example, "L2")

    assert codes(trace) == ["B1", "B2"]
    assert trace.direct == {example.batches["B1"].pk}
    assert trace.to_recover == 295
    assert by_person(trace) == {"Shop C1": 60, "Shop C2": 175, "Shop C3": 60}
    units = {(holder.name, holder.pack.batch.code): holder.units for holder in trace.holders}
    assert units == {
        ("Shop C1", "B1"): 60,
        ("Shop C2", "B1"): 95,
        ("Shop C2", "B2"): 80,
        ("Shop C3", "B1"): 20,
        ("Shop C3", "B2"): 40,
    }
    first, second = account_of(trace, "B1"), account_of(trace, "B2")
    assert (first.in_house, first.to_judge, first.kept, first.destroyed) == (5, 5, 3, 2)
    assert (second.in_house, second.to_judge, second.kept, second.destroyed) == (30, 0, 3, 1)
    assert example.lots["L2"].on_hand == 0


def test_direct_links_alone_would_miss_120_units(example: Example) -> None:
    """A9: B1 alone is 175 units."""
    trace = forward(example, "L2")

    direct = sum(one.out for one in trace.accounts if one.pack.batch_id in trace.direct)

    assert (direct, trace.to_recover - direct) == (175, 120)


def test_a_recall_of_l3_leaves_c1_alone(example: Example) -> None:
    """A10: B2 only: C2 80, C3 40; shelf 30; retained 3; 2,800 g of the lot left."""
    trace = forward(example, "L3")

    assert codes(trace) == ["B2"]
    assert by_person(trace) == {"Shop C2": 80, "Shop C3": 40}
    found = account_of(trace, "B2")
    assert (found.in_house, found.kept, example.lots["L3"].on_hand) == (30, 3, 2800)


def test_a_recall_of_l1_lists_b2_once(example: Example) -> None:
    """A11: B2 directly and through rework; the same 295 units; 2,290 g of the lot left."""
    trace = forward(example, "L1")

    assert codes(trace) == ["B1", "B2"]
    assert trace.direct == {example.batches["B1"].pk, example.batches["B2"].pk}
    assert [one.pack.batch.code for one in trace.accounts] == ["B1", "B2"]
    assert (trace.to_recover, example.lots["L1"].on_hand) == (295, 2290)


def test_expiry(example: Example) -> None:
    """A15: B1 min(2028-02-10, 2028-06-30, 2027-05-31); B2's rework brings the same day."""
    b1, b2 = example.batches["B1"], example.batches["B2"]

    assert (b1.best_before, b2.best_before) == (date(2027, 5, 31), date(2027, 5, 31))
    assert "L2" in b1.best_before_why
    assert example.lots["R1"].code in b2.best_before_why
    assert example.packs["P1"].best_before == date(2027, 5, 31)


def test_two_lots_of_one_ingredient_are_told_apart_by_the_weighing(example: Example) -> None:
    """A16: both L2 and L3 are wax and on the shelf at once; each weighing names its lot."""
    wax = Weighing.objects.filter(lot__ingredient=example.wax)

    assert {(one.batch.code, one.lot.code) for one in wax} == {("B1", "L2"), ("B2", "L3")}


def test_the_records_hold_together(example: Example) -> None:
    """The chain verifies, balances agree with their entries, signatures with what they signed."""
    maker = example.by.maker

    assert chain_faults(maker) == []
    assert [(check.name, list(check.faults(maker))) for check in record_checks if check.faults(maker)] == []


def test_the_same_answers_when_a_supplier_recalls_by_their_number(example: Example) -> None:
    """Their lot number leads to our lot."""
    lots = Lot.objects.for_maker(example.by.maker).filter(supplier_lot="S-WAX-12")

    assert trace_forward(example.by.maker, lots).to_recover == 295
