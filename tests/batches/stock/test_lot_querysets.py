"""The words for asking about lots: each names rows that must come back and rows that must not."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from batches.actions.stock import close_hold, decide_lot, open_hold, waste_lot
from batches.models import Hold, Lot
from makers.actions import By
from makers.models import Maker
from tests.batches.stock.factories_stock import (
    in_days,
    make_article,
    make_ingredient,
    make_lot,
    make_supplier,
)
from tests.cast import Cast


def codes(rows: Iterable[Lot]) -> list[str]:
    """The codes of lots in their order."""
    return [lot.code for lot in rows]


def test_usable_is_released_unheld_in_date_and_not_used_up(by: By, maker: Maker) -> None:
    """The last day is in; quarantine, rejected, held, expired and used up are out."""
    ingredient = make_ingredient(maker)
    good = make_lot(by, ingredient, released=True, code="GOOD")
    last = make_lot(by, ingredient, released=True, code="LAST-DAY", good_until=by.today())
    make_lot(by, ingredient, code="WAITS")
    make_lot(by, ingredient, released=True, code="PAST", good_until=in_days(by, -1))
    held = make_lot(by, ingredient, released=True, code="HELD")
    open_hold(by, lot=held, cause="smell")
    used = make_lot(by, ingredient, released=True, code="USED-UP")
    waste_lot(by, lot=used, amount=Decimal(1000), why="x")
    rejected = make_lot(by, ingredient, code="REJECTED")
    decide_lot(by, lot=rejected, became="rejected", basis="rancid")

    assert {good.code, last.code} == set(codes(Lot.objects.for_maker(maker).usable(by.today())))
    assert {"USED-UP"} == set(codes(Lot.objects.for_maker(maker).used_up()))
    assert {"HELD"} == set(codes(Lot.objects.for_maker(maker).held_back()))
    assert {"REJECTED"} == set(codes(Lot.objects.for_maker(maker).of_status("rejected")))


def test_first_expiry_comes_first_and_no_date_last(by: By, maker: Maker) -> None:
    """Of one date the older receipt first (ISO 22716 6.6.7: oldest first; first expiry: common practice)."""
    ingredient = make_ingredient(maker)
    make_lot(by, ingredient, code="NONE")
    make_lot(by, ingredient, code="LATE", good_until=in_days(by, 300))
    make_lot(by, ingredient, code="SOON-NEW", good_until=in_days(by, 30))
    make_lot(by, ingredient, code="SOON-OLD", good_until=in_days(by, 30), received_on=in_days(by, -50))

    ordered = codes(Lot.objects.for_maker(maker).first_expiry_first())

    assert ordered == ["SOON-OLD", "SOON-NEW", "LATE", "NONE"]


def test_dates_by_day(by: By, maker: Maker) -> None:
    """In date on the day itself; past it the day after; due by a day with it."""
    make_lot(by, code="TODAY", good_until=by.today())
    make_lot(by, code="NONE")
    make_lot(by, code="YESTERDAY", good_until=in_days(by, -1))
    lots = Lot.objects.for_maker(maker)

    assert {"TODAY", "NONE"} == set(codes(lots.in_date(by.today())))
    assert {"YESTERDAY"} == set(codes(lots.past_date(by.today())))
    assert {"TODAY", "YESTERDAY"} == set(codes(lots.due_by(by.today())))


def test_lots_are_found_by_what_is_known_of_them(by: By, maker: Maker) -> None:
    """Code, the supplier's lot, the material, the supplier; nothing else."""
    oil = make_ingredient(maker, "Borage oil")
    lot = make_lot(by, oil, code="B-1", supplier_lot="KX-77", supplier=make_supplier(maker, "Curlew Oils"))
    make_lot(by, make_article(maker, "Lid"), "5")

    for words in ("b-1", "kx-7", "borage", "curlew"):
        assert [lot.code] == codes(Lot.objects.for_maker(maker).found_by(words))
    assert codes(Lot.objects.for_maker(maker).found_by("shea")) == []


def test_lots_of_one_material(by: By, maker: Maker) -> None:
    """An ingredient's or an article's alone."""
    oil, lid = make_ingredient(maker), make_article(maker)
    first, second = make_lot(by, oil), make_lot(by, lid, "5")

    assert [first.code] == codes(Lot.objects.for_maker(maker).of_ingredient(oil))
    assert [second.code] == codes(Lot.objects.for_maker(maker).of_article(lid))


def test_another_makers_lots_are_not_there(cast: Cast) -> None:
    """Every question starts at the maker."""
    make_lot(cast.stranger)

    assert not Lot.objects.for_maker(cast.maker).exists()


def test_open_holds(by: By) -> None:
    """Until they end."""
    first = open_hold(by, lot=make_lot(by), cause="smell")
    second = open_hold(by, lot=make_lot(by), cause="smell")
    close_hold(by, hold=second, why="fine")

    assert [first] == list(Hold.objects.for_maker(by.maker).open())
