"""Taking a weighing back, repeats, and what the database refuses of weighings."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied
from django.db import IntegrityError, transaction

from batches.actions.making import (
    correct_output,
    finish_batch,
    take_back,
    yield_output,
)
from batches.actions.stock import correct_entry, open_hold
from batches.contributions_making import weighings_agree
from batches.models import Batch, BatchLine, Lot, LotEntry, Weighing
from makers.actions import By, Refused
from makers.models import JournalEntry
from tests.batches.making.factories_making import (
    line_at,
    lot_for,
    make_accounted,
    make_made,
    make_making,
    make_plan,
    make_released,
    make_version,
    percent_line,
    weigh_line,
)
from tests.batches.stock.factories_stock import (
    in_days,
    make_ingredient,
    make_lot,
)
from tests.cast import Cast, make_member

# -- taking back


def test_a_weighing_is_taken_back_in_both_books(by: By) -> None:
    """Both entries stay; the grams are in the lot again, each reversal points at what it reverses."""
    batch = make_making(by)
    wrong = weigh_line(by, batch)

    back = take_back(by, weighing=wrong, why="Typed 700, meant 70.")

    wrong.lot.refresh_from_db()
    assert (back.grams, back.reverses, wrong.lot.on_hand) == (-wrong.grams, wrong, Decimal(1000))
    reversal = LotEntry.objects.get(kind="reversed")
    assert reversal.reverses == LotEntry.objects.get(kind="weighed")
    assert weighings_agree(by.maker) == []


def test_a_weighing_is_taken_back_once(by: By) -> None:
    """And a reversal not at all; neither without a reason."""
    batch = make_making(by)
    wrong = weigh_line(by, batch)
    back = take_back(by, weighing=wrong, why="x")

    for weighing, why, said in (
        (wrong, "x", "already"),
        (back, "x", "weigh again instead"),
        (wrong, " ", "Say what was wrong"),
    ):
        with pytest.raises(Refused, match=said):
            take_back(by, weighing=weighing, why=why)

    assert Weighing.objects.count() == 2


def test_a_weighing_is_not_taken_back_from_the_lots_page(by: By) -> None:
    """Its ledger line is corrected in the batch, so that both agree."""
    batch = make_making(by)
    weigh_line(by, batch)

    with pytest.raises(Refused, match=f"written in batch {batch}"):
        correct_entry(by, entry=LotEntry.objects.get(kind="weighed"), why="x")


def test_a_correction_after_the_bulk_was_weighed_moves_the_last_good_day(by: By) -> None:
    """The short-dated lot goes out and a longer one in."""
    batch = make_making(by, make_version(by, percent_line(make_ingredient(by.maker), "100")))
    short = lot_for(by, line_at(batch), good_until=in_days(by, 40))
    wrong = weigh_line(by, batch, lot=short)
    batch = finish_batch(by, batch=batch, bulk_g=Decimal(990))
    assert batch.best_before == in_days(by, 40)

    take_back(by, weighing=wrong, why="It was the other bag.")
    longer = lot_for(by, line_at(batch), good_until=in_days(by, 80))
    weigh_line(by, batch, lot=longer, why="It was this bag.")

    batch.refresh_from_db()
    assert batch.best_before == in_days(by, 80)
    assert longer.code in batch.best_before_why


# -- once


def test_a_double_tap_has_one_effect(by: By) -> None:
    """The same key returns the first weighing, even with other figures."""
    batch, key = make_making(by), uuid4()
    lot = lot_for(by, line_at(batch))

    first = weigh_line(by, batch, lot=lot, entry_key=key)
    again = weigh_line(by, batch, lot=lot, grams=Decimal(1), entry_key=key)

    lot.refresh_from_db()
    assert again == first
    assert (lot.on_hand, Weighing.objects.count()) == (Decimal(300), 1)
    assert JournalEntry.objects.filter(action="weighed").count() == 1


def test_a_repeat_is_answered_even_when_the_batch_has_moved_on(by: By) -> None:
    """A phone that comes back late is told that its entry is written down."""
    version = make_version(by, percent_line(make_ingredient(by.maker), "100"))
    batch, key = make_making(by, version), uuid4()
    first = weigh_line(by, batch, entry_key=key)
    finish_batch(by, batch=batch, bulk_g=Decimal(990))

    assert weigh_line(by, batch, lot=first.lot, entry_key=key) == first


def test_taking_back_twice_with_one_key_has_one_effect(by: By) -> None:
    """As a double tap on the button."""
    batch, key = make_making(by), uuid4()
    wrong = weigh_line(by, batch)

    first = take_back(by, weighing=wrong, why="x", entry_key=key)

    assert take_back(by, weighing=wrong, why="x", entry_key=key) == first


# -- the database's last line


def raw(by: By, batch: Batch, lot: Lot, line: BatchLine, **fields: object) -> Weighing:
    """A weighing past the actions."""
    given: dict[str, object] = {
        "maker": by.maker, "batch": batch, "line": line, "lot": lot, "grams": Decimal(1),
        "scale": batch.scale, "occurred_at": by.now(), "entered_at": by.now(), "user": by.user, **fields,
    }  # fmt: skip
    return Weighing(**given)


def test_the_database_refuses_what_the_action_would(by: By, cast: Cast) -> None:
    """Unreleased, held, expired, another ingredient's, another batch's line, a batch not on the bench."""
    batch = make_making(by)
    line = line_at(batch)
    held = lot_for(by, line)
    open_hold(by, lot=held, cause="x")
    good = lot_for(by, line)
    plan, released = make_plan(by), make_released(by)
    rows = [
        raw(by, batch, lot_for(by, line, released=False), line),
        raw(by, batch, held, line),
        raw(by, batch, lot_for(by, line, good_until=in_days(by, -2)), line),
        raw(by, batch, make_lot(by, released=True), line),
        raw(by, batch, good, line_at(batch, 2)),
        raw(by, plan, lot_for(by, line_at(plan)), line_at(plan)),
        raw(by, released, lot_for(by, line_at(released)), line_at(released)),
        raw(by, batch, good, line, grams=Decimal(-1)),
        raw(by, batch, good, line, maker=cast.stranger.maker),
    ]

    for row in rows:
        with pytest.raises(IntegrityError), transaction.atomic():
            row.save()


def test_a_weighing_never_changes(by: By) -> None:
    """Not by a queryset, not by a cascade."""
    weighing = weigh_line(by, make_making(by))

    ways_past_the_model: list[Callable[[], object]] = [
        lambda: Weighing._base_manager.filter(pk=weighing.pk).update(grams=Decimal(1)),
        lambda: Weighing._base_manager.filter(pk=weighing.pk)._raw_delete("default"),
    ]
    for change in ways_past_the_model:
        with pytest.raises((IntegrityError, TypeError)), transaction.atomic():
            change()

    weighing.refresh_from_db()
    assert weighing.grams == 700


def test_a_reader_weighs_nothing(cast: Cast) -> None:
    """Only owners and workers write."""
    batch = make_making(cast.owner)
    lot = lot_for(cast.owner, line_at(batch))

    with pytest.raises(PermissionDenied):
        weigh_line(cast.reader, batch, lot=lot)

    assert weigh_line(make_member(cast.maker, "worker"), batch, lot=lot).grams == 700


def test_the_ledger_and_the_weighings_are_compared(by: By) -> None:
    """A line that moves a lot for a batch without a weighing is found."""
    batch = make_making(by)
    lot = lot_for(by, line_at(batch))
    LotEntry(
        maker=by.maker, lot=lot, kind="weighed", amount=Decimal(-5), batch=batch,
        occurred_at=by.now(), entered_at=by.now(), user=by.user,
    ).save()  # fmt: skip

    [fault] = weighings_agree(by.maker)

    assert lot.code in fault.where
    assert "0 g" in fault.text


def test_an_output_does_not_disturb_the_comparison(by: By) -> None:
    """A made lot that was taken back is no weighing."""
    batch = make_made(by)
    output = yield_output(by, batch=batch, kind="rework", grams=Decimal(100))

    correct_output(by, output=output, why="Typed twice.")

    assert weighings_agree(by.maker) == []
    assert make_accounted(by).state == "made"
