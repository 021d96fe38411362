"""What a batch really cost: from the lots weighed in, their invoices and the rates of their days."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from batches.lot_costs import cost_of
from batches.models import Batch, Lot
from formulas.models import ExchangeRate
from makers.actions import By
from makers.http import address
from tests.batches.making.factories_making import (
    approved,
    line_at,
    lot_for,
    make_house_lot,
    make_made,
    make_making,
    make_rework,
    make_version,
    percent_line,
    weigh_line,
)
from tests.batches.stock.factories_stock import make_lot, make_opening
from tests.cast import Cast

pytestmark = pytest.mark.django_db


def priced(
    by: By, batch: Batch, position: int, cost: str | None, amount: str = "1000", **fields: object
) -> Lot:
    """A released lot of a line that cost so much in all."""
    return lot_for(
        by, line_at(batch, position), amount, cost=None if cost is None else Decimal(cost), **fields
    )


def test_a_batch_costs_what_its_lots_cost_a_gram(cast: Cast) -> None:
    """700 g at 10.00 a kg and 300 g at 20.00 a kg: 13.00."""
    by = cast.owner
    batch = make_making(by)
    weigh_line(by, batch, 1, lot=priced(by, batch, 1, "10.00"))
    weigh_line(by, batch, 2, lot=priced(by, batch, 2, "20.00"))

    found = cost_of(batch)

    assert found is not None
    assert [row.cost for row in found.rows] == [7, 6]
    assert found.whole == 13
    assert found.is_complete


def test_a_lot_without_a_cost_is_named_and_not_free(cast: Cast) -> None:
    by = cast.owner
    batch = make_making(by)
    unknown = make_opening(by, line_at(batch, 2).ingredient)
    Lot.objects.filter(pk=unknown.pk).update(status="released")
    unknown.refresh_from_db()
    weigh_line(by, batch, 1, lot=priced(by, batch, 1, "10.00"))
    weigh_line(by, batch, 2, lot=unknown)

    found = cost_of(batch)

    assert found is not None
    assert found.lacking == (unknown,)
    assert found.rows[1].cost is None
    assert found.whole == 7


def test_a_foreign_invoice_goes_by_the_rate_of_its_day(cast: Cast) -> None:
    """10.00 GBP at 1.20 of that day, not at the later 2.00; without any rate it is unknown."""
    by, today = cast.owner, cast.owner.today()
    batch = make_making(by)
    lot = priced(by, batch, 1, "10.00")
    Lot.objects.filter(pk=lot.pk).update(currency="GBP", received_on=today - timedelta(days=10))
    weigh_line(by, batch, 1, lot=Lot.objects.get(pk=lot.pk))

    before = cost_of(batch)
    ExchangeRate.objects.create(
        maker=by.maker, currency="GBP", on=today - timedelta(days=20), rate=Decimal("1.2")
    )
    ExchangeRate.objects.create(maker=by.maker, currency="GBP", on=today, rate=Decimal(2))
    after = cost_of(batch)

    assert before is not None
    assert after is not None
    assert before.lacking == (lot,)
    assert after.whole == Decimal("8.4")


def test_in_house_lots_and_rework_cost_what_their_batches_cost(cast: Cast) -> None:
    """Both behind it have lots without cost: every one of them is named, through the batch that took it."""
    by = cast.owner
    infusion = make_house_lot(by)
    assert infusion.ingredient is not None
    version = make_version(by, percent_line(infusion.ingredient, "100"), approve=False)
    batch = make_making(by, approved(by, version), total_g=Decimal(100))
    weigh_line(by, batch, 1, lot=infusion, grams=Decimal(100))

    found = cost_of(batch)

    assert found is not None
    assert infusion.from_batch is not None
    behind = set(infusion.from_batch.weighings.values_list("lot__code", flat=True))
    assert {lot.code for lot in found.lacking} == behind
    Lot.objects.filter(code__in=behind).update(cost=Decimal(10), currency=by.maker.currency)
    known = cost_of(batch)
    assert known is not None
    assert known.is_complete
    # 1,000 g at 10.00 a kg went in, 990 g came out, 100 g of it were taken
    assert known.whole.quantize(Decimal("0.0001")) == Decimal("1.0101")


def test_the_page_of_a_made_batch_shows_it_and_a_planned_one_does_not(cast: Cast, client: Client) -> None:
    by = cast.owner
    made, making = make_made(by), make_making(by)
    make_rework(by, made, "90")
    client.force_login(by.user)

    shown = client.get(address(by.maker, "batches:batch", code=made.code)).content.decode()
    hidden = client.get(address(by.maker, "batches:batch", code=making.code)).content.decode()

    assert "Cost of its lots" in shown
    assert "is not counted as free" in shown
    assert "Cost of its lots" not in hidden


def test_more_lots_ask_no_more_of_the_database(cast: Cast) -> None:
    by = cast.owner
    counts = []
    for lots in (1, 6):
        batch = make_making(by)
        for _ in range(lots):
            weigh_line(
                by,
                batch,
                1,
                lot=make_lot(by, line_at(batch, 1).ingredient, released=True),
                grams=Decimal(10),
                more_follows=True,
                why="from the other sack",
            )
        batch = Batch.objects.select_related("maker").get(pk=batch.pk)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            cost_of(batch)
        counts.append(len(asked))

    assert counts[0] == counts[1]
