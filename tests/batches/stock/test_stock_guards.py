"""What the database itself refuses, whatever writes to it."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, models, transaction

from batches.actions.stock import close_hold, decide_lot, open_hold, retest_lot, waste_lot
from batches.models import Hold, Lot, LotDecision, LotEntry, Retest
from makers.actions import By
from tests.batches.stock.factories_stock import in_days, make_ingredient, make_lot, make_source, make_supplier
from tests.cast import Cast


def raw_line(by: By, lot: Lot, amount: str) -> LotEntry:
    """A ledger line past the actions, its form checks and its sentences."""
    return LotEntry(
        maker=by.maker,
        lot=lot,
        kind="wasted",
        amount=Decimal(amount),
        occurred_at=by.now(),
        entered_at=by.now(),
        user=by.user,
    )


def refuses(write: Callable[[], Any]) -> None:
    """The database says no, and the transaction around goes on."""
    with pytest.raises(IntegrityError), transaction.atomic():
        write()


def test_a_line_that_takes_more_than_there_is(by: By) -> None:
    """The balance would be negative: the CHECK refuses the trigger's update and with it the line."""
    lot = make_lot(by)

    refuses(lambda: raw_line(by, lot, "-1000.0001").save())

    lot.refresh_from_db()
    assert lot.on_hand == 1000
    assert lot.entries.count() == 1


def test_the_balance_follows_a_line_written_past_the_actions(by: By) -> None:
    """The trigger keeps it, not the code."""
    lot = make_lot(by)

    LotEntry.objects.bulk_create([raw_line(by, lot, "-0.0001"), raw_line(by, lot, "-999")])

    lot.refresh_from_db()
    assert lot.on_hand == Decimal("0.9999")


def facts_of_a_lot(by: By) -> list[models.Model]:
    """One row of every append-only table of stock."""
    lot = make_lot(by)
    return [
        waste_lot(by, lot=lot, amount=Decimal(1), why="x"),
        decide_lot(by, lot=lot, became="released", basis="x"),
        retest_lot(by, lot=lot, became=in_days(by, 5), basis="x"),
    ]


@pytest.mark.parametrize("number", [0, 1, 2])
def test_facts_are_neither_changed_nor_removed(by: By, number: int) -> None:
    """Through the base manager, which knows nothing of append-only, the database still refuses."""
    row = facts_of_a_lot(by)[number]
    rows = type(row)._base_manager.filter(pk=row.pk)

    refuses(lambda: rows.update(occurred_at=by.now()))
    refuses(lambda: rows._raw_delete("default"))
    assert rows.exists()


@pytest.mark.parametrize("model", [LotEntry, LotDecision, Retest])
def test_code_is_told_that_facts_stay(by: By, model: type[models.Model]) -> None:
    """The programmer gets a sentence before the database gets the statement."""
    row = next(row for row in facts_of_a_lot(by) if isinstance(row, model))

    with pytest.raises(TypeError, match="never change"):
        row.save()
    with pytest.raises(TypeError, match="never deleted"):
        row.delete()


def test_a_hold_is_closed_once_and_never_removed(by: By) -> None:
    """What was judged stays judged."""
    hold = close_hold(by, hold=open_hold(by, lot=make_lot(by), cause="smell"), why="fine")
    rows = Hold._base_manager.filter(pk=hold.pk)

    refuses(lambda: rows.update(closed_at=None, closed_by=None))
    refuses(lambda: rows._raw_delete("default"))


def test_a_hold_is_on_one_thing(by: By) -> None:
    """Not on none."""
    refuses(lambda: Hold.objects.create(maker=by.maker, cause="x", opened_at=by.now(), opened_by=by.user))


def test_a_lot_of_another_makers_ingredient(cast: Cast) -> None:
    """Foreign keys stay within a maker, on insert and on update."""
    by, lot = cast.owner, make_lot(cast.owner)
    theirs = make_ingredient(cast.stranger.maker)

    refuses(lambda: Lot._base_manager.filter(pk=lot.pk).update(ingredient=theirs))
    refuses(
        lambda: Lot._base_manager.filter(pk=lot.pk).update(
            source=make_source(theirs, make_supplier(theirs.maker))
        )
    )
    refuses(lambda: raw_line(cast.stranger, lot, "-1").save())
    refuses(lambda: Lot._base_manager.filter(pk=lot.pk).update(maker=cast.stranger.maker))
    lot.refresh_from_db()
    assert (by.maker, 1000) == (lot.maker, lot.on_hand)


def test_a_lot_is_of_one_thing_in_its_unit(by: By) -> None:
    """An ingredient is never kept in pieces, and a lot is never of nothing."""
    lot = make_lot(by)

    refuses(lambda: Lot._base_manager.filter(pk=lot.pk).update(unit="pieces"))
    refuses(lambda: Lot._base_manager.filter(pk=lot.pk).update(ingredient=None))


def test_two_lots_of_one_code(by: By) -> None:
    """A code names one lot of a maker."""
    first, second = make_lot(by), make_lot(by)

    refuses(lambda: Lot._base_manager.filter(pk=second.pk).update(code=first.code))


def test_the_same_submission_twice(by: By) -> None:
    """The key of an entry stands once in a maker's ledger."""
    from uuid import uuid4

    lot, key = make_lot(by), uuid4()
    first, second = raw_line(by, lot, "-1"), raw_line(by, lot, "-1")
    first.entry_key = second.entry_key = key
    first.save()

    refuses(second.save)


def test_one_line_taken_back_twice(by: By) -> None:
    """A line is reversed by one other at most."""
    lot = make_lot(by)
    wrong = waste_lot(by, lot=lot, amount=Decimal(5), why="x")
    lines = [raw_line(by, lot, "5"), raw_line(by, lot, "5")]
    for line in lines:
        line.reverses = wrong
    lines[0].save()

    refuses(lines[1].save)
