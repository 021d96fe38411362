"""Packs past their best-before day stay in the house; the day itself is still good, by the maker's own calendar."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest

from batches.actions.selling import (
    add_place,
    built_in,
    count_units,
    destroy_units,
    dispatch,
    judge_return,
    move_units,
    take_return,
    there,
)
from batches.models import Dispatch, Pack, Place
from makers.actions import By, Refused
from makers.models import JournalHead
from tests.batches.fixture import Example, on

pytestmark = pytest.mark.django_db
LAST = "2027-05-31"
NEXT = "2027-06-01"


@pytest.fixture
def pack(example: Example) -> Pack:
    """30 units of it are in the workshop."""
    pack = Pack.objects.get(pk=example.packs["P2"].pk)
    assert pack.best_before == date.fromisoformat(LAST)
    return pack


@pytest.fixture
def workshop(by: By) -> Place:
    """Where they are."""
    return built_in(by, "workshop")


@pytest.fixture
def shop(by: By) -> Place:
    """A shop that may bring back what it does not sell."""
    return add_place(by, name="Eelmere Slipway Shelf", kind="shop")


def send(by: By, example: Example, pack: Pack, day: str, to: str = "C1") -> Dispatch:
    """Two units to a shop, written down with this day."""
    line = (pack, 2, built_in(by, "workshop"))
    return dispatch(by, recipient=example.people[to], on=date.fromisoformat(day), lines=[line])


def test_on_the_day_itself_it_leaves(by: By, example: Example, pack: Pack, workshop: Place) -> None:
    """Best before includes the day."""
    send(on(by, LAST), example, pack, LAST)

    assert there(pack, workshop) == 28


def test_on_the_day_after_it_stays(by: By, example: Example, pack: Pack, workshop: Place) -> None:
    """Nothing is sent or written; the sentence gives the day and says what to do."""
    before = JournalHead.objects.get(maker=by.maker).number

    with pytest.raises(Refused, match=f"stays: it was best before {LAST}. Destroy what is left"):
        send(on(by, NEXT), example, pack, NEXT)

    assert there(pack, workshop) == 30
    assert JournalHead.objects.get(maker=by.maker).number == before


def test_what_left_in_time_may_be_written_down_later(
    by: By, example: Example, pack: Pack, workshop: Place
) -> None:
    """The day of the dispatch counts, not the day of writing."""
    send(on(by, NEXT), example, pack, LAST)

    assert there(pack, workshop) == 28


def test_a_pack_without_a_day_leaves(by: By, example: Example, pack: Pack, workshop: Place) -> None:
    """Nothing says how long it keeps: nothing to hold against it."""
    Pack.objects.filter(pk=pack.pk).update(best_before=None)

    send(on(by, NEXT), example, pack, NEXT)

    assert there(pack, workshop) == 28


@pytest.mark.parametrize(("clock", "leaves"), [("22:30", True), ("23:30", False)])
def test_to_a_shop_it_goes_until_the_makers_own_midnight(
    by: By, pack: Pack, workshop: Place, shop: Place, clock: str, leaves: bool
) -> None:
    """In Dublin the last day of May ends at 23:00 UTC."""
    moment = datetime.fromisoformat(f"{LAST}T{clock}:00+00:00")
    then = replace(by, clock=lambda: moment)

    if leaves:
        move_units(then, pack=pack, units=4, from_place=workshop, to_place=shop)
    else:
        with pytest.raises(Refused, match="stays: it was best before"):
            move_units(then, pack=pack, units=4, from_place=workshop, to_place=shop)

    assert there(pack, shop) == (4 if leaves else 0)


def test_within_the_house_it_moves_at_any_time(by: By, pack: Pack, workshop: Place) -> None:
    """From the workshop to the stall box, where somebody sorts it out."""
    stall = add_place(by, name="Tidegate stall", kind="stall")

    move_units(on(by, NEXT), pack=pack, units=4, from_place=workshop, to_place=stall)

    assert there(pack, stall) == 4


def test_coming_back_counting_and_destroying_ask_for_no_day(
    by: By, example: Example, pack: Pack, workshop: Place, shop: Place
) -> None:
    """What stands at a shop comes home, is judged, counted and destroyed after its day as before it."""
    move_units(on(by, LAST), pack=pack, units=4, from_place=workshop, to_place=shop)
    later = on(by, NEXT)

    back = take_return(later, pack=pack, units=4, on=later.today(), reason="past their day", place=shop)
    judge_return(later, came_back=back, units=3, verdict="destroy", why="past their day")
    judge_return(later, came_back=back, units=1, verdict="restore", why="to look at; it is not sold")
    count_units(later, pack=pack, place=workshop, found=26, why="one fell")
    destroy_units(later, pack=pack, units=26, place=workshop, why="past their day")

    assert (there(pack, shop), there(pack, workshop)) == (0, 0)


def test_from_a_shop_nothing_is_sold_after_the_day(
    by: By, example: Example, pack: Pack, workshop: Place, shop: Place
) -> None:
    """What a shop reports as sold was sold on a day, too."""
    move_units(on(by, LAST), pack=pack, units=4, from_place=workshop, to_place=shop)
    later = on(by, NEXT)

    with pytest.raises(Refused, match="stays: it was best before"):
        dispatch(later, recipient=example.people["C1"], on=later.today(), lines=[(pack, 1, shop)])
    dispatch(later, recipient=example.people["C1"], on=date.fromisoformat(LAST), lines=[(pack, 1, shop)])

    assert there(pack, shop) == 3
