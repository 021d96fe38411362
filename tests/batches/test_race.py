"""Eight who weigh from one lot at one moment: never below nothing, and book, chain and records agree."""

from __future__ import annotations

from decimal import Decimal
from functools import partial
from uuid import uuid4

import pytest
from django.db.models import Sum

from batches.actions.making import finish_batch, take_back, weigh
from batches.actions.selling import add_recipient, built_in, dispatch, pack_batch, set_up_places
from batches.models import Batch, BatchLine, Dispatch, Lot, LotEntry, Pack, PackBalance, Recipient, Weighing
from makers.actions import By, Refused
from makers.actions.journal import chain_faults
from makers.models import JournalEntry
from makers.registries import record_checks
from tests.batches.making import factories_making as making
from tests.batches.stock.factories_stock import make_ingredient, make_lot
from tests.cast import make_cast
from tests.racing import committed, race

__all__ = ["committed"]
pytestmark = pytest.mark.usefixtures("committed")
WRITERS = 8
D = Decimal


def one_lot_and_batches(by: By, grams: str) -> tuple[Lot, list[Batch]]:
    """A released lot, and eight batches on the bench that each want 200 g of it."""
    oil = make_ingredient(by.maker, "Plum kernel oil")
    version = making.make_version(by, making.percent_line(oil, "100"))
    batches = [making.make_making(by, version, total_g=D(200)) for _ in range(WRITERS)]
    return make_lot(by, oil, grams, released=True), batches


def whole(by: By, lot: Lot) -> None:
    """Balance, ledger, weighings, chain and records agree."""
    lot.refresh_from_db()
    ledger = LotEntry.objects.filter(lot=lot).aggregate(sum=Sum("amount"))["sum"]
    assert lot.on_hand == ledger >= 0
    assert chain_faults(by.maker) == []
    assert [fault for check in record_checks for fault in check.faults(by.maker)] == []


def test_of_eight_weighings_of_200_from_1000_five_stand() -> None:
    """Three are told what is left, whatever the order."""
    by = make_cast().owner
    lot, batches = one_lot_and_batches(by, "1000")
    lines = [batch.lines.get() for batch in batches]

    def take(line: BatchLine) -> Weighing:
        return weigh(by, batch=line.batch, line=line, lot=Lot.objects.get(pk=lot.pk), grams=D(200))

    found = race([partial(take, line) for line in lines])

    refused = [one for one in found if isinstance(one, Refused)]
    assert (sum(isinstance(one, Weighing) for one in found), len(refused)) == (5, 3), found
    whole(by, lot)
    assert lot.on_hand == 0
    assert Weighing.objects.filter(lot=lot).aggregate(sum=Sum("grams"))["sum"] == 1000


def test_one_weighing_sent_eight_times_is_weighed_once() -> None:
    """A double tap, and six more."""
    by = make_cast().owner
    lot, batches = one_lot_and_batches(by, "1000")
    line, key = batches[0].lines.get(), uuid4()

    def take() -> int:
        fresh = Lot.objects.get(pk=lot.pk)
        return weigh(by, batch=line.batch, line=line, lot=fresh, grams=D(200), entry_key=key).pk

    found = race([take] * WRITERS)

    assert len(set(found)) == 1, found
    whole(by, lot)
    assert lot.on_hand == 800
    assert JournalEntry.objects.filter(action="weighed").count() == 1


def test_of_eight_who_take_one_weighing_back_one_does() -> None:
    """The grams return once."""
    by = make_cast().owner
    lot, batches = one_lot_and_batches(by, "1000")
    line = batches[0].lines.get()
    wrong = weigh(by, batch=line.batch, line=line, lot=lot, grams=D(200))

    found = race([lambda: take_back(by, weighing=Weighing.objects.get(pk=wrong.pk), why="tare")] * WRITERS)

    assert sum(isinstance(one, Weighing) for one in found) == 1, found
    whole(by, lot)
    assert lot.on_hand == 1000


def packs_for_sale(by: By) -> tuple[Pack, Recipient]:
    """Ten packs of a released batch, and somebody who wants them."""
    set_up_places(by)
    oil = make_ingredient(by.maker, "Plum kernel oil")
    version = making.make_version(by, making.percent_line(oil, "100"))
    product = making.make_product(version)
    lot = make_lot(by, oil, "1000", released=True)
    batch = making.make_making(by, version, total_g=D(500), product=product)
    weigh(by, batch=batch, line=batch.lines.get(), lot=lot, grams=D(500))
    finish_batch(by, batch=batch, bulk_g=D(500))
    pack = pack_batch(by, batch=batch, product=product, units=10, grams=D(500))
    making.sign(by, batch)
    return pack, add_recipient(by, kind="shop", name="Eelmere Slipway Shelf")


def test_of_eight_who_send_two_of_ten_packs_five_do() -> None:
    """Packs are never sent twice."""
    by = make_cast().owner
    pack, recipient = packs_for_sale(by)
    workshop = built_in(by, "workshop")

    def send() -> Dispatch:
        line = (Pack.objects.get(pk=pack.pk), 2, workshop)
        return dispatch(by, recipient=recipient, on=by.today(), lines=[line])

    found = race([send] * WRITERS)

    assert sum(isinstance(one, Dispatch) for one in found) == 5, found
    assert sum(isinstance(one, Refused) for one in found) == 3, found
    assert PackBalance.objects.get(pack=pack, place=workshop).units == 0
    assert chain_faults(by.maker) == []


def test_one_dispatch_sent_eight_times_is_one() -> None:
    """The same key, the same dispatch."""
    by = make_cast().owner
    pack, recipient = packs_for_sale(by)
    workshop, key = built_in(by, "workshop"), uuid4()

    def send() -> int:
        line = (Pack.objects.get(pk=pack.pk), 2, workshop)
        return dispatch(by, recipient=recipient, on=by.today(), lines=[line], entry_key=key).pk

    found = race([send] * WRITERS)

    assert len(set(found)) == 1, found
    assert Dispatch.objects.count() == 1
    assert PackBalance.objects.get(pack=pack, place=workshop).units == 8
