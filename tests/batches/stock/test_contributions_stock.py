"""What stock says on Today, in the search, on an ingredient's page, and to the checks."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from batches import contributions_stock as stock
from batches.actions.stock import count_lot, open_hold, waste_lot
from batches.models import Lot, LotEntry
from makers import guards
from makers.actions import By
from makers.http import address
from makers.registries import export_tables, panels_for
from tests.batches.pages import text_of, url
from tests.batches.stock.factories_stock import (
    in_days,
    make_article,
    make_ingredient,
    make_lot,
    make_opening,
    make_supplier,
)
from tests.cast import Cast


def plain(text: str) -> str:
    """A sentence with plain blanks."""
    return " ".join(text.split())


def test_today_names_lots_that_wait(by: By) -> None:
    """With what is left, and the way to the decision; used up lots wait for nothing."""
    lot = make_lot(by, make_ingredient(by.maker, "Shea butter"), received_on=in_days(by, -3))
    waste_lot(by, lot=make_lot(by), amount=Decimal(1000), why="x")

    (item,) = stock.today_waiting(by.maker, by.today())

    assert plain(item.text) == f"Shea butter, lot {lot.code}, has waited 3 days for a decision."
    assert (item.mark, plain(item.figure)) == ("quarantine", "1 000.0 g")
    assert item.act_url.endswith(f"/lots/{lot.code}/#h-decide")


def test_today_counts_what_it_does_not_name(by: By) -> None:
    """Six by name, the rest in one line with the way to the list."""
    for _ in range(8):
        make_lot(by)

    items = stock.today_waiting(by.maker, by.today())

    assert len(items) == 7
    assert plain(items[-1].text) == "2 more lots of the same kind."
    assert items[-1].url.endswith("?state=quarantine")


@pytest.mark.parametrize(
    ("days", "word"),
    [(-1, "Expired"), (0, "Last day"), (1, "1 day"), (30, "30 days"), (90, "90 days"), (91, None)],
)
def test_today_brings_dates_up_in_time(by: By, days: int, word: str | None) -> None:
    """From 90 days before; the last day is not past."""
    make_lot(by, good_until=in_days(by, days), released=True)

    found = [plain(item.word) for item in stock.today_dates(by.maker, by.today())]

    assert found == ([word] if word else [])


def test_a_rejected_lot_needs_no_date(by: By) -> None:
    """Nobody uses it anyway."""
    from batches.actions.stock import decide_lot

    lot = make_lot(by, good_until=in_days(by, -1))
    decide_lot(by, lot=lot, became="rejected", basis="rancid")

    assert not stock.today_dates(by.maker, by.today())


def test_a_retest_is_asked_for(by: By) -> None:
    """Another word than expired."""
    make_lot(by, good_until=in_days(by, -2), date_kind="retest", released=True)

    (item,) = stock.today_dates(by.maker, by.today())

    assert (item.mark, item.word, item.act) == ("retest", "Retest due", "Test it")


def test_an_open_hold_is_for_now(by: By) -> None:
    """With its cause and the way to end it."""
    hold = open_hold(by, lot=make_lot(by), cause="smells of hay.")

    (item,) = stock.today_holds(by.maker, by.today())

    assert item.now
    assert item.text.endswith(": smells of hay.")
    assert item.url == address(by.maker, "batches:hold", uuid=hold.uuid)


def test_short_is_below_the_level_of_what_is_free(by: By) -> None:
    """At the level is not short; what is in quarantine is not free; jars are counted."""
    shea = make_ingredient(by.maker, "Shea", low_stock_g=Decimal(500))
    make_ingredient(by.maker, "Wax", low_stock_g=Decimal(0))
    jar = make_article(by.maker, "Jar", low_stock=10)
    make_lot(by, shea, "500", released=True)
    make_lot(by, jar, "9", released=True)

    first = {item.text.split(":")[0] for item in stock.today_short(by.maker, by.today())}
    lot = make_lot(by, shea, "100")
    waste_lot(by, lot=shea.lots.earliest("id"), amount=Decimal("0.0001"), why="x")
    second = {item.text.split(":")[0] for item in stock.today_short(by.maker, by.today())}

    assert first == {"Jar"}
    assert second == {"Jar", "Shea"}
    assert lot.status == "quarantine"


@pytest.mark.parametrize("count", [1, 30])
def test_today_asks_the_same_number_of_questions(
    by: By, count: int, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    """One lot or thirty, held, expiring and short alike."""
    for _ in range(count):
        lot = make_lot(
            by, make_ingredient(by.maker, low_stock_g=Decimal(5000)), good_until=in_days(by, 3), released=True
        )
        open_hold(by, lot=lot, cause="x")
        make_lot(by)

    with django_assert_max_num_queries(8):
        for source in (stock.today_waiting, stock.today_dates, stock.today_holds, stock.today_short):
            source(by.maker, by.today())


def test_the_search_finds_a_suppliers_lot(at_home: Client, by: By) -> None:
    """The number on the sack leads to the lot; the lot's own code goes straight there."""
    lot = make_lot(by, supplier_lot="KX-77", supplier=make_supplier(by.maker))
    where = address(by.maker, "house:search")

    assert lot.code in text_of(at_home.get(where, {"q": "kx-7"}))
    assert at_home.get(where, {"q": lot.code.lower()})["Location"] == url(by, "lot", code=lot.code)


def test_nothing_of_another_maker_is_found(cast: Cast) -> None:
    """Search, Today and checks start at the maker."""
    lot = make_lot(cast.stranger, supplier_lot="KX-77", good_until=in_days(cast.stranger, 3))
    open_hold(cast.stranger, lot=lot, cause="x")
    maker, today = cast.maker, cast.owner.today()

    assert not stock.find_lots(maker, "kx", 20)
    for source in (stock.today_waiting, stock.today_dates, stock.today_holds, stock.today_short):
        assert not source(maker, today)


def test_an_ingredients_page_shows_its_lots(by: By) -> None:
    """On hand, what of it is free, first to expire first and used up last."""
    oil = make_ingredient(by.maker, low_stock_g=Decimal(700))
    waste_lot(by, lot=make_lot(by, oil, code="GONE"), amount=Decimal(1000), why="x")
    make_lot(by, oil, "400", code="LATE", good_until=in_days(by, 300))
    make_lot(by, oil, "600", code="SOON", good_until=in_days(by, 30), released=True)
    make_lot(by, code="OTHER")

    panel = dict(panels_for(by.maker, oil))["batches/stock/_lots_panel.html"]

    assert [row.lot.code for row in panel["rows"]] == ["SOON", "LATE", "GONE"]
    assert (panel["total"], panel["free"], panel["is_low"]) == (1000, 600, True)


def test_an_articles_page_shows_its_lots(at_home: Client, by: By) -> None:
    """On the page itself, in pieces."""
    jar = make_article(by.maker)
    lot = make_opening(by, jar, "24")

    text = text_of(at_home.get(address(by.maker, "formulas:article", code=jar.code)))

    assert lot.code in text
    assert "24 pieces" in text


def test_sound_records_have_no_fault(by: By) -> None:
    """Receipts, counts, waste, holds: all as sealed."""
    lot = make_lot(by, make_article(by.maker), "10")
    count_lot(by, lot=lot, found=Decimal(9), why="broken")
    open_hold(by, lot=make_opening(by), cause="x")

    assert not stock.ledger_faults(by.maker)
    assert not stock.seal_faults(by.maker)
    assert not stock.hold_faults(by.maker)


def test_a_balance_that_is_not_its_ledger_is_named(by: By) -> None:
    """Whoever gets past the database is found."""
    lot = make_lot(by)
    Lot._base_manager.filter(pk=lot.pk).update(on_hand=Decimal(999))

    (fault,) = stock.ledger_faults(by.maker)

    assert (fault.where, fault.text) == (
        f"lot {lot.code}",
        "It stands at 999.0000, its ledger adds up to 1000.0000.",
    )


def test_a_line_changed_after_it_was_sealed_is_named(by: By) -> None:
    """With the guards away a line is changed and another removed: both are found, with their entries."""
    lot = make_lot(by)
    changed = waste_lot(by, lot=lot, amount=Decimal(10), why="x")
    removed = waste_lot(by, lot=lot, amount=Decimal(20), why="x")

    guards.remove()
    LotEntry._base_manager.filter(pk=changed.pk).update(amount=Decimal(-1))
    LotEntry._base_manager.filter(pk=removed.pk)._raw_delete("default")
    guards.install()

    faults = stock.seal_faults(by.maker)
    assert [fault.text for fault in faults] == [
        "It says something else than journal entry 2 sealed.",
        f"The ledger line {removed.uuid} that it sealed is gone.",
    ]
    assert connection.in_atomic_block


def test_a_mark_without_a_hold_is_named(by: By) -> None:
    """And a hold without its mark."""
    lot, other = make_lot(by), make_lot(by)
    open_hold(by, lot=other, cause="x")
    Lot._base_manager.filter(pk=lot.pk).update(held=True)
    Lot._base_manager.filter(pk=other.pk).update(held=False)

    assert [f"lot {lot.code}", f"lot {other.code}"] == [fault.where for fault in stock.hold_faults(by.maker)]


def test_every_table_of_stock_is_exported() -> None:
    """After what it points to."""
    order = {table.model: table.order for table in export_tables}

    assert order["batches.Delivery"] < order["batches.Lot"] < order["batches.LotEntry"]
    for name in ("LotDecision", "Retest", "Hold"):
        assert order["batches.Lot"] < order[f"batches.{name}"]
