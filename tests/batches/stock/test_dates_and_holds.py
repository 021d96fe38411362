"""Retests, opening a container, and holds."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.core.exceptions import PermissionDenied

from batches.actions.stock import close_hold, open_hold, open_lot, retest_lot
from batches.models import Hold
from makers.actions import By, Refused
from makers.models import JournalEntry
from tests.batches.stock.factories_stock import in_days, make_lot
from tests.cast import Cast


def test_a_test_moves_the_date_and_keeps_the_old_one(by: By) -> None:
    """From now on the lot's date is one of a retest."""
    lot = make_lot(by, good_until=in_days(by, -3))

    retest = retest_lot(by, lot=lot, became=in_days(by, 180), basis="peroxide value 3.1, smell as fresh")

    assert (in_days(by, -3), in_days(by, 180)) == (retest.was, retest.became)
    assert (in_days(by, 180), "retest") == (lot.good_until, lot.date_kind)


def test_a_test_can_give_a_date_where_there_was_none(by: By) -> None:
    """Unknown becomes known."""
    lot = make_lot(by)

    retest_lot(by, lot=lot, became=in_days(by, 90), basis="looked at")

    assert lot.good_until == in_days(by, 90)


def test_today_is_the_earliest_day(by: By) -> None:
    """To stop the use of a lot it is held or rejected, not tested into the past."""
    lot = make_lot(by, good_until=in_days(by, 10))

    with pytest.raises(Refused, match="hold or reject it"):
        retest_lot(by, lot=lot, became=in_days(by, -1), basis="x")

    retest_lot(by, lot=lot, became=by.today(), basis="smells old")
    assert lot.good_until == by.today()


def test_a_test_needs_words(by: By) -> None:
    """What was tested and what it showed."""
    with pytest.raises(Refused, match="what was tested"):
        retest_lot(by, lot=make_lot(by), became=in_days(by, 10), basis="")


def test_a_container_is_opened_once(by: By) -> None:
    """The day stays."""
    lot = make_lot(by)

    open_lot(by, lot=lot)

    assert lot.opened_on == by.today()
    with pytest.raises(Refused, match="was opened on"):
        open_lot(by, lot=lot)


def test_a_hold_marks_the_lot_until_it_ends(by: By) -> None:
    """Opened by whom, ended by whom and why stays on the hold."""
    lot = make_lot(by, released=True)

    hold = open_hold(by, lot=lot, cause="smells of hay")
    assert lot.held

    hold = close_hold(by, hold=hold, why="it is the sack, not the oil")
    lot.refresh_from_db()
    assert not lot.held
    assert (by.user, "it is the sack, not the oil") == (hold.closed_by, hold.closed_why)


def test_of_two_holds_the_second_keeps_the_lot_back(by: By) -> None:
    """The lot is free when the last hold ends."""
    lot = make_lot(by)
    first = open_hold(by, lot=lot, cause="smell")
    open_hold(by, lot=lot, cause="label torn off")

    close_hold(by, hold=first, why="it is the sack")

    lot.refresh_from_db()
    assert lot.held


def test_a_hold_ends_once(by: By) -> None:
    """The sentence says when it ended."""
    hold = close_hold(by, hold=open_hold(by, lot=make_lot(by), cause="smell"), why="fine")

    with pytest.raises(Refused, match="was ended on"):
        close_hold(by, hold=hold, why="again")


def test_a_hold_has_a_cause_an_end_a_reason_and_one_thing(by: By) -> None:
    """Whoever ends it has to know."""
    lot = make_lot(by)

    with pytest.raises(Refused, match="cause of the hold"):
        open_hold(by, lot=lot, cause=" ")
    with pytest.raises(Refused, match="one lot, one batch or one pack"):
        open_hold(by, cause="smell")
    with pytest.raises(Refused, match="why the hold can end"):
        close_hold(by, hold=open_hold(by, lot=lot, cause="smell"), why="")


def test_the_journal_shows_a_hold_on_its_lot(by: By) -> None:
    """The entries are about the lot."""
    lot = make_lot(by)
    close_hold(by, hold=open_hold(by, lot=lot, cause="smell"), why="fine")

    found = JournalEntry.objects.filter(subject=lot.uuid).order_by("number").values_list("action", "why")

    assert list(found) == [("hold.opened", "smell"), ("hold.closed", "fine")]


def test_readers_and_strangers_hold_nothing(cast: Cast) -> None:
    """Readers look; another maker's lot and hold are not in the book."""
    lot = make_lot(cast.owner)
    hold = open_hold(cast.owner, lot=lot, cause="smell")

    acts: list[Callable[[By], object]] = [
        lambda by: open_hold(by, lot=lot, cause="x"),
        lambda by: close_hold(by, hold=hold, why="x"),
        lambda by: retest_lot(by, lot=lot, became=in_days(by, 9), basis="x"),
        lambda by: open_lot(by, lot=lot),
    ]
    for act in acts:
        with pytest.raises(PermissionDenied):
            act(cast.reader)
        with pytest.raises(Refused, match="not in this book"):
            act(cast.stranger)
    assert Hold.objects.filter(closed_at=None).count() == 1
