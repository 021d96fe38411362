"""Weighing: what it writes and refuses, taking back, repeats, the database's last line."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db.models import Sum

from batches.actions.making import (
    add_rework_line,
    add_substitute_line,
    finish_batch,
    lots_for,
    weigh,
)
from batches.actions.stock import open_hold
from batches.contributions_making import weighings_agree
from batches.models import Batch, BatchLine, Deviation, Lot, LotEntry, Weighing
from makers.actions import By, Refused
from makers.actions.journal import chain_faults
from makers.models import JournalEntry
from tests.batches.making.factories_making import (
    adjust_line,
    line_at,
    lot_for,
    make_house_lot,
    make_made,
    make_making,
    make_plan,
    make_released,
    make_rework,
    make_version,
    percent_line,
    weigh_line,
)
from tests.batches.stock.factories_stock import (
    in_days,
    make_article,
    make_composition,
    make_ingredient,
    make_lot,
)
from tests.cast import Cast


def test_a_weighing_takes_its_grams_from_the_lot(by: By) -> None:
    """One weighing, one line in the ledger, one entry in the journal, and the lot's composition is fixed."""
    batch = make_making(by)
    line = line_at(batch)
    assert line.ingredient is not None
    lot = make_lot(by, line.ingredient, released=True, composition=make_composition(line.ingredient))

    weighing = weigh(by, batch=batch, line=line, lot=lot, grams=Decimal("699.9"))

    lot.refresh_from_db()
    assert lot.on_hand == Decimal("300.1")
    entry = LotEntry.objects.get(kind="weighed")
    assert (entry.amount, entry.batch, entry.occurred_at) == (Decimal("-699.9"), batch, weighing.occurred_at)
    assert lot.composition is not None
    assert lot.composition.frozen_at is not None
    said = JournalEntry.objects.get(action="weighed")
    assert said.change["grams"] == "699.9"
    assert weighing.scale == batch.scale
    assert weighings_agree(by.maker) == []
    assert chain_faults(by.maker) == []


def test_lots_are_proposed_first_expiry_first(by: By) -> None:
    """Only usable ones; without a date last, then the oldest receipt."""
    batch = make_making(by)
    line = line_at(batch)
    undated = lot_for(by, line)
    late, soon = lot_for(by, line, good_until=in_days(by, 90)), lot_for(by, line, good_until=in_days(by, 9))
    lot_for(by, line, good_until=in_days(by, -1))
    lot_for(by, line, released=False)
    open_hold(by, lot=lot_for(by, line), cause="smell")

    assert lots_for(by.maker, line, by.today()) == [soon, late, undated]


# -- refusals


def refusal_of(
    by: By, batch: Batch, lot: Lot, grams: str = "700", position: int = 1, **fields: Any
) -> dict[str, list[str]]:
    """What a refused weighing says, by field; checks that nothing moved."""
    lot.refresh_from_db()
    before = lot.on_hand
    with pytest.raises(Refused) as refusal:
        weigh(by, batch=batch, line=line_at(batch, position), lot=lot, grams=Decimal(grams), **fields)
    lot.refresh_from_db()
    assert lot.on_hand == before
    assert not Weighing.objects.exists()
    found = refusal.value
    return found.message_dict if hasattr(found, "error_dict") else {"": found.messages}


def test_a_lot_in_quarantine_is_refused(by: By) -> None:
    """With what it lacks."""
    batch = make_making(by)

    said = refusal_of(by, batch, lot_for(by, line_at(batch), released=False))

    assert "is in quarantine: nobody has decided about it yet" in said["lot"][0]


def test_an_expired_lot_is_refused_and_one_on_its_last_day_is_good(by: By) -> None:
    """A last good day is still good."""
    batch = make_making(by)
    lot = lot_for(by, line_at(batch), good_until=in_days(by, -1))

    assert "It expired 1 day ago" in refusal_of(by, batch, lot)["lot"][0]

    last_day = lot_for(by, line_at(batch), good_until=by.today())
    assert weigh_line(by, batch, lot=last_day).lot == last_day


def test_a_held_lot_is_refused_with_every_cause(by: By) -> None:
    """Both causes are read."""
    batch = make_making(by)
    lot = lot_for(by, line_at(batch))
    open_hold(by, lot=lot, cause="Smells of paint.")
    open_hold(by, lot=lot, cause="Certificate names another lot.")

    said = refusal_of(by, batch, lot)["lot"][0]

    assert "Smells of paint." in said
    assert "Certificate names another lot." in said


def test_another_ingredients_lot_is_refused_with_both_names(by: By) -> None:
    """The way to take it all the same is a substitute."""
    batch = make_making(by)
    other = make_lot(by, make_ingredient(by.maker, "Castor oil"), released=True)

    said = refusal_of(by, batch, other)["lot"][0]

    assert f"{other} is Castor oil; this line takes {line_at(batch).ingredient}" in said
    assert "add a substitute" in said


def test_a_lot_of_jars_is_refused(by: By) -> None:
    """Jars are not weighed in."""
    batch = make_making(by)

    assert (
        "this line takes"
        in refusal_of(by, batch, make_lot(by, make_article(by.maker), released=True))["lot"][0]
    )


def test_more_than_is_left_is_refused_with_both_figures(by: By) -> None:
    """And with what can be done."""
    batch = make_making(by)
    lot = lot_for(by, line_at(batch), "500")

    said = refusal_of(by, batch, lot)["grams"][0]

    assert f"500.0\xa0g of {lot} are left, 700.0\xa0g were written. Take a second lot" in said


@pytest.mark.parametrize("grams", ["0", "-1"])
def test_nothing_or_less_is_refused(by: By, grams: str) -> None:
    """A weighing is above 0 g."""
    batch = make_making(by)

    assert refusal_of(by, batch, lot_for(by, line_at(batch)), grams)["grams"] == ["A weighing is above 0 g."]


def test_a_batch_that_was_not_started_takes_nothing(by: By) -> None:
    """The way on is said."""
    batch = make_plan(by)

    assert refusal_of(by, batch, lot_for(by, line_at(batch)))[""] == [f"{batch} is planned. Start it first."]


def test_a_held_batch_takes_nothing(by: By) -> None:
    """Its hold is judged first."""
    batch = make_making(by)
    open_hold(by, batch=batch, cause="A fly.")

    assert "is on hold" in refusal_of(by, batch, lot_for(by, line_at(batch)))[""][0]


def test_a_released_batch_takes_nothing(by: By) -> None:
    """An amendment opens it."""
    batch = make_released(by)
    lot = lot_for(by, line_at(batch))

    with pytest.raises(Refused, match=r"is released\. Write an amendment"):
        weigh_line(by, batch, lot=lot)


def test_a_line_of_another_batch_is_refused(by: By) -> None:
    """A stale page can't write into the wrong batch."""
    batch, other = make_making(by), make_making(by)
    line = line_at(other)

    with pytest.raises(Refused, match="Open the bench again"):
        weigh(by, batch=batch, line=line, lot=lot_for(by, line), grams=Decimal(700))


def test_a_moment_to_come_is_refused(by: By) -> None:
    """Only what has happened is written down."""
    batch = make_making(by)

    said = refusal_of(by, batch, lot_for(by, line_at(batch)), occurred_at=by.now() + timedelta(hours=1))

    assert "still to come" in said["occurred_at"][0]


def test_another_makers_lot_is_not_in_this_book(cast: Cast) -> None:
    """Neither found nor named."""
    batch = make_making(cast.owner)
    theirs = make_lot(cast.stranger, released=True)

    with pytest.raises(Refused, match="not in this book"):
        weigh_line(cast.owner, batch, lot=theirs)


# -- tolerance and order


def test_outside_the_tolerance_asks_why_and_becomes_a_deviation(by: By) -> None:
    """700 g ± 3.5 g: 703.5 is within, 703.6 is not."""
    batch = make_making(by)
    lot = lot_for(by, line_at(batch))
    said = refusal_of(by, batch, lot, "703.6")
    assert said["grams"][0].startswith("3.6 g over; 3.5 g is allowed. Keep it and say why")

    weigh_line(by, batch, lot=lot, grams=Decimal("703.6"), why="Slipped.")

    deviation = Deviation.objects.get()
    assert deviation.line == line_at(batch)
    assert deviation.text == f"{line_at(batch).ingredient}: 3.6 g over; 3.5 g is allowed. Slipped."


def test_at_the_tolerance_is_within_it(by: By) -> None:
    """No reason is asked."""
    batch = make_making(by)

    weigh_line(by, batch, grams=Decimal("703.5"))

    assert Deviation.objects.count() == 0


def test_two_lots_make_one_line_when_the_first_runs_out(by: By) -> None:
    """Short is no deviation while more follows; together they are within."""
    batch = make_making(by)
    line = line_at(batch)
    first = lot_for(by, line, "200", good_until=in_days(by, 30))
    second = lot_for(by, line, good_until=in_days(by, 60))

    weigh_line(by, batch, lot=first, grams=Decimal(200), more_follows=True)
    weigh_line(by, batch, lot=second, grams=Decimal(500))

    assert Deviation.objects.count() == 0
    assert batch.weighings.aggregate(sum=Sum("grams"))["sum"] == 700


def test_another_lot_than_the_first_to_expire_asks_why(by: By) -> None:
    """The first one and its date are named."""
    batch = make_making(by)
    line = line_at(batch)
    first = lot_for(by, line, good_until=in_days(by, 5))
    later = lot_for(by, line, good_until=in_days(by, 50))

    said = refusal_of(by, batch, later)["why"][0]

    assert (
        said
        == f"{first} goes first, good until {in_days(by, 5):%Y-%m-%d}. Take it, or say why {later} is taken."
    )
    assert (
        weigh_line(by, batch, lot=later, why="The first is a sealed sample.").why
        == "The first is a sealed sample."
    )
    assert Deviation.objects.count() == 0


def test_an_adjust_line_is_judged_by_its_range(by: By) -> None:
    """1 to 5 g: at the end is within, beyond it asks why."""
    version = make_version(
        by,
        percent_line(make_ingredient(by.maker), "100"),
        adjust_line(make_ingredient(by.maker), "0.1", "0.5"),
    )
    batch = make_making(by, version)
    lot = lot_for(by, line_at(batch, 2), "100")

    assert refusal_of(by, batch, lot, "5.1", 2)["grams"] == ["5.1 g; 1 to 5 g is the range. Say why."]

    weigh_line(by, batch, 2, lot=lot, grams=Decimal(5))
    assert Deviation.objects.count() == 0


# -- substitutes and rework


def test_a_substitute_takes_the_lines_place(by: By) -> None:
    """The replaced line takes nothing more."""
    batch = make_making(by)
    rice = make_ingredient(by.maker, "Rice bran oil")
    line = line_at(batch)

    added = add_substitute_line(by, batch=batch, line=line, ingredient=rice, why="The plum oil did not come.")

    weigh_line(by, batch, added.position, lot=make_lot(by, rice, released=True))
    with pytest.raises(Refused, match="Rice bran oil goes in instead of"):
        weigh_line(by, batch, lot=lot_for(by, line))
    with pytest.raises(Refused, match="has a substitute already"):
        add_substitute_line(by, batch=batch, line=line, ingredient=rice, why="x")


def test_rework_goes_in_as_a_line_of_its_own(by: By) -> None:
    """By decision; only that lot fits the line."""
    version = make_version(by)
    rework = make_rework(by, make_made(by, version))
    batch = make_making(by, version)

    line = add_rework_line(by, batch=batch, lot=rework, grams=Decimal(200), why="Same formula, a week old.")
    weighing = weigh_line(by, batch, line.position, lot=rework)

    assert (weighing.grams, weighing.lot) == (Decimal(200), rework)
    rework.refresh_from_db()
    assert rework.on_hand == 0


@pytest.mark.parametrize(
    ("grams", "why", "said"), [("200.1", "x", "are left"), ("0", "x", "are left"), ("1", " ", "say why")]
)
def test_rework_that_can_not_be_taken_in_is_refused(by: By, grams: str, why: str, said: str) -> None:
    """More than there is, nothing, or without a reason."""
    rework = make_rework(by, make_made(by))
    batch = make_making(by)

    with pytest.raises(Refused, match=said):
        add_rework_line(by, batch=batch, lot=rework, grams=Decimal(grams), why=why)

    assert not batch.lines.filter(kind="rework").exists()


def test_what_is_not_rework_is_no_rework_line(by: By) -> None:
    """A lot of oil has its own line."""
    with pytest.raises(Refused, match="is not rework"):
        add_rework_line(by, batch=make_making(by), lot=make_lot(by, released=True), grams=Decimal(1), why="x")


def test_a_batch_never_takes_in_what_it_made_at_any_depth(by: By) -> None:
    """First gives rework to second, second to third; third's rework does not go back into first."""
    version = make_version(by)
    first = make_made(by, version)
    lot = make_rework(by, first)
    for _ in range(2):
        batch = make_making(by, version)
        line = add_rework_line(by, batch=batch, lot=lot, grams=Decimal(200), why="x")
        weigh_line(by, batch, line.position, lot=lot)
        lot = lot_out_of(by, batch)
    Batch.objects.filter(pk=first.pk).update(state="making")

    with pytest.raises(Refused, match=f"was made from {first} itself through {lot.from_batch}"):
        add_rework_line(by, batch=first, lot=lot, grams=Decimal(1), why="x")


def lot_out_of(by: By, batch: Batch) -> Lot:
    """Rework out of a batch on the bench, its other lines weighed."""
    for line in batch.lines.exclude(kind="rework"):
        weigh_line(by, batch, line.position)
    return make_rework(by, finish_batch(by, batch=batch, bulk_g=Decimal(1100)))


def test_an_in_house_lot_does_not_go_back_into_its_batch(by: By) -> None:
    """Refused where it is weighed, too: a correction in a made batch."""
    lot = make_house_lot(by)
    batch = lot.from_batch
    assert batch is not None
    assert lot.ingredient is not None
    line = BatchLine.objects.create(
        maker=by.maker,
        batch=batch,
        position=9,
        kind="substitute",
        ingredient=lot.ingredient,
        planned_g=Decimal(10),
    )

    with pytest.raises(Refused, match=f"{lot} was made from {batch} itself"):
        weigh(by, batch=batch, line=line, lot=lot, grams=Decimal(10))
