"""Counting, wasting, sampling, sending back, and correcting a line."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.db.models import Sum

from batches.actions.stock import correct_entry, count_lot, decide_lot, waste_lot
from batches.models import Lot, LotEntry
from makers.actions import By, Refused
from makers.models import JournalEntry
from tests.batches.stock.factories_stock import make_article, make_lot, make_opening
from tests.cast import Cast


def ledger_sum(lot: Lot) -> Decimal:
    """What the ledger of a lot adds up to."""
    found: Decimal = LotEntry.objects.filter(lot=lot).aggregate(all=Sum("amount"))["all"]
    return found


def test_a_count_writes_the_difference_to_the_book(by: By) -> None:
    """995 found of 1000: a line of -5, with what was found."""
    lot = make_lot(by)

    entry = count_lot(by, lot=lot, found=Decimal(995), why="stuck to the scoop")

    assert (Decimal(-5), Decimal(995)) == (entry.amount, entry.counted)
    assert Decimal(995) == lot.on_hand == ledger_sum(lot)


def test_a_count_as_written_needs_no_reason(by: By) -> None:
    """A line of 0 says that somebody looked."""
    entry = count_lot(by, lot=make_lot(by), found=Decimal(1000))

    assert (Decimal(0), Decimal(1000)) == (entry.amount, entry.counted)


@pytest.mark.parametrize(("found", "words"), [("990", "10.0\xa0g less"), ("1010.5", "10.5\xa0g more")])
def test_a_difference_needs_a_reason(by: By, found: str, words: str) -> None:
    """A significant discrepancy is investigated (ISO 22716 6.6.8); the sentence has the figure."""
    with pytest.raises(Refused) as refused:
        count_lot(by, lot=make_lot(by), found=Decimal(found))

    assert refused.value.messages[0].startswith(words)


def test_a_count_in_kilograms_is_a_count(by: By) -> None:
    """The unit is the maker's."""
    lot = make_lot(by)

    count_lot(by, lot=lot, found=Decimal("0.98"), unit="kg", why="spilled")

    assert lot.on_hand == 980


def test_a_count_on_an_old_page_is_refused(by: By) -> None:
    """While somebody counted, 100 g went out: the difference would be wrong."""
    lot = make_lot(by)
    waste_lot(by, lot=lot, amount=Decimal(100), why="spilled")

    with pytest.raises(Refused, match="The book moved from"):
        count_lot(by, lot=lot, found=Decimal(1000), expected=Decimal(1000))


def test_a_count_below_nothing_is_refused(by: By) -> None:
    """There is nothing below nothing; nothing itself can be found."""
    lot = make_lot(by)

    with pytest.raises(Refused, match="0 or more"):
        count_lot(by, lot=lot, found=Decimal(-1), why="x")

    count_lot(by, lot=lot, found=Decimal(0), why="the jar is empty")
    assert lot.on_hand == 0


@pytest.mark.parametrize("kind", ["wasted", "sampled", "returned"])
def test_what_leaves_the_lot_leaves_the_book(by: By, kind: str) -> None:
    """Each way out is a line of its own kind."""
    lot = make_lot(by)

    entry = waste_lot(by, lot=lot, amount=Decimal(40), why="smell and colour", kind=kind)

    assert (kind, Decimal(-40)) == (entry.kind, entry.amount)
    assert Decimal(960) == lot.on_hand == ledger_sum(lot)


def test_more_than_is_there_can_not_go(by: By) -> None:
    """The sentence says what would be left and what can go."""
    lot = make_lot(by, amount="1120")

    with pytest.raises(Refused) as refused:
        waste_lot(by, lot=lot, amount=Decimal(1240), why="x")

    assert "would leave −120.0\xa0g. At most 1\u202f120.0\xa0g can go." in refused.value.messages[0]


def test_all_of_it_can_go(by: By) -> None:
    """At the limit is within it."""
    lot = make_lot(by)

    waste_lot(by, lot=lot, amount=Decimal(1000), why="rancid")

    assert lot.on_hand == 0


@pytest.mark.parametrize(
    ("amount", "unit"), [("0", "g"), ("-1", "g"), ("1", "pieces"), ("NaN", "g"), ("0.00001", "g")]
)
def test_amounts_that_are_none_are_refused(by: By, amount: str, unit: str) -> None:
    """Not above 0, not a weight, not a number, too small to be kept."""
    lot = make_lot(by)

    with pytest.raises(Refused):
        waste_lot(by, lot=lot, amount=Decimal(amount), unit=unit, why="x")

    assert ledger_sum(lot) == 1000


def test_half_a_jar_is_refused(by: By) -> None:
    """Articles are whole."""
    lot = make_lot(by, make_article(by.maker), "10")

    with pytest.raises(Refused, match="whole number"):
        waste_lot(by, lot=lot, amount=Decimal("0.5"), why="broken")


def test_a_way_out_needs_a_reason_and_a_known_kind(by: By) -> None:
    """Weighing goes through a batch."""
    lot = make_lot(by)

    with pytest.raises(Refused, match="stays in the ledger for good"):
        waste_lot(by, lot=lot, amount=Decimal(1), why=" ")
    with pytest.raises(Refused, match="wasted, sampled or sent back"):
        waste_lot(by, lot=lot, amount=Decimal(1), why="x", kind="weighed")


def test_a_movement_of_tomorrow_is_refused(by: By) -> None:
    """What is written has happened."""
    with pytest.raises(Refused, match="still to come"):
        waste_lot(
            by, lot=make_lot(by), amount=Decimal(1), why="x", occurred_at=by.now() + timedelta(minutes=5)
        )


def test_a_repeated_movement_is_one(by: By) -> None:
    """A double tap wastes once, and is journalled once."""
    lot, key = make_lot(by), uuid4()

    first = waste_lot(by, lot=lot, amount=Decimal(40), why="spilled", entry_key=key)
    second = waste_lot(by, lot=lot, amount=Decimal(40), why="spilled", entry_key=key)

    assert first == second
    assert lot.on_hand == 960
    assert JournalEntry.objects.filter(action="lot.wasted").count() == 1


def test_a_wrong_line_is_taken_back_and_the_right_one_written(by: By) -> None:
    """Typed 910, meant 91: three lines are to be seen, the balance is right."""
    lot = make_lot(by)
    wrong = waste_lot(by, lot=lot, amount=Decimal(910), why="spilled")

    back = correct_entry(by, entry=wrong, why="typed 910, meant 91", amount=Decimal(91))

    lot.refresh_from_db()
    assert (back.kind, back.amount, back.reverses) == ("reversed", Decimal(910), wrong)
    assert [Decimal(1000), Decimal(-910), Decimal(910), Decimal(-91)] == list(
        LotEntry.objects.filter(lot=lot).values_list("amount", flat=True)
    )
    assert Decimal(909) == lot.on_hand == ledger_sum(lot)


def test_an_amount_received_is_corrected_though_most_is_gone(by: By) -> None:
    """2500 typed for 2450, 2400 used: the right line comes first, so nothing goes below nothing."""
    lot = make_lot(by, amount="2500")
    waste_lot(by, lot=lot, amount=Decimal(2400), why="used before this book")

    correct_entry(
        by, entry=lot.entries.get(kind="received"), why="typed 2500", amount=Decimal("2.45"), unit="kg"
    )

    lot.refresh_from_db()
    assert lot.on_hand == 50


def test_a_receipt_that_was_used_can_not_be_taken_back_whole(by: By) -> None:
    """The sentence says what to correct first."""
    lot = make_lot(by, amount="2500")
    waste_lot(by, lot=lot, amount=Decimal(2400), why="x")

    with pytest.raises(Refused, match="Correct what went out first"):
        correct_entry(by, entry=lot.entries.get(kind="received"), why="never came")


def test_a_line_is_taken_back_once(by: By) -> None:
    """Neither twice, nor the taking back itself."""
    lot = make_lot(by)
    wrong = waste_lot(by, lot=lot, amount=Decimal(10), why="x")
    back = correct_entry(by, entry=wrong, why="wrong lot")

    with pytest.raises(Refused, match="taken back already"):
        correct_entry(by, entry=wrong, why="again")
    with pytest.raises(Refused, match="takes another back"):
        correct_entry(by, entry=back, why="again")


def test_a_count_is_taken_back_and_counted_anew(by: By) -> None:
    """A count has no right amount of its own."""
    lot = make_lot(by)
    wrong = count_lot(by, lot=lot, found=Decimal(100), why="read the wrong scale")

    with pytest.raises(Refused, match="write down a new one"):
        correct_entry(by, entry=wrong, why="x", amount=Decimal(1000))

    correct_entry(by, entry=wrong, why="read the wrong scale")
    lot.refresh_from_db()
    assert lot.on_hand == 1000


def test_what_a_batch_took_is_taken_back_in_the_batch(by: By) -> None:
    """The batch must agree with the ledger."""
    lot = make_lot(by)
    weighed = LotEntry(
        maker=by.maker,
        lot=lot,
        kind="weighed",
        amount=Decimal(-10),
        occurred_at=by.now(),
        entered_at=by.now(),
        user=by.user,
    )
    weighed.save()

    with pytest.raises(Refused, match="Take it back there"):
        correct_entry(by, entry=weighed, why="x")


def test_a_correction_needs_a_reason(by: By) -> None:
    """What was wrong is written."""
    with pytest.raises(Refused, match="what was wrong"):
        correct_entry(by, entry=make_opening(by).entries.get(), why="")


def test_stock_moves_without_touching_the_status(by: By) -> None:
    """A status never changes because stock was counted."""
    lot = make_lot(by)
    decide_lot(by, lot=lot, became="rejected", basis="rancid")

    waste_lot(by, lot=lot, amount=Decimal(1000), why="rejected")

    lot.refresh_from_db()
    assert (lot.status, lot.on_hand) == ("rejected", 0)


def test_readers_and_strangers_move_nothing(cast: Cast) -> None:
    """Readers look; another maker's lot is not in the book."""
    lot = make_lot(cast.owner)
    entry = lot.entries.get()

    acts: list[Callable[[By], object]] = [
        lambda by: count_lot(by, lot=lot, found=Decimal(1), why="x"),
        lambda by: waste_lot(by, lot=lot, amount=Decimal(1), why="x"),
        lambda by: correct_entry(by, entry=entry, why="x"),
    ]
    for act in acts:
        with pytest.raises(PermissionDenied):
            act(cast.reader)
        with pytest.raises(Refused, match="not in this book"):
            act(cast.stranger)
