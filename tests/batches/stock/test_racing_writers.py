"""Eight writers on one lot: nothing is taken twice, nothing below nothing, and the chain stays whole."""

from __future__ import annotations

from decimal import Decimal
from functools import partial
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection
from django.db.models import Sum

from batches.actions.stock import count_lot, decide_lot, waste_lot
from batches.models import Lot, LotDecision, LotEntry
from makers import guards
from makers.actions import Refused
from makers.actions.journal import chain_faults
from makers.models import JournalEntry
from tests.batches.stock.factories_stock import make_lot
from tests.cast import make_cast
from tests.racing import committed, race

__all__ = ["committed"]
pytestmark = pytest.mark.usefixtures("committed")
WRITERS = 8


def ledger_sum(lot: Lot) -> Decimal:
    """What the ledger adds up to."""
    found: Decimal = LotEntry.objects.filter(lot=lot).aggregate(all=Sum("amount"))["all"]
    return found


def test_of_eight_who_take_200_of_1000_five_get_it() -> None:
    """The other three are told that nothing is left."""
    by = make_cast().owner
    lot = make_lot(by)

    found = race(
        [lambda: waste_lot(by, lot=Lot.objects.get(pk=lot.pk), amount=Decimal(200), why="x")] * WRITERS
    )

    lot.refresh_from_db()
    refused = [one for one in found if isinstance(one, Refused)]
    assert (sum(isinstance(one, LotEntry) for one in found), len(refused)) == (5, 3), found
    assert "At most 0.0\xa0g can go." in refused[0].messages[0]
    assert lot.on_hand == ledger_sum(lot) == 0
    assert chain_faults(by.maker) == []


def test_the_database_alone_keeps_the_balance() -> None:
    """Eight who write past the actions and their locks: five lines stand, three are refused."""
    by = make_cast().owner
    lot = make_lot(by)

    def write() -> None:
        LotEntry(
            maker=by.maker,
            lot=lot,
            kind="wasted",
            amount=Decimal(-200),
            occurred_at=by.now(),
            entered_at=by.now(),
            user=by.user,
        ).save()

    found = race([write] * WRITERS)

    lot.refresh_from_db()
    assert (found.count(None), sum(isinstance(one, IntegrityError) for one in found)) == (5, 3), found
    assert lot.on_hand == ledger_sum(lot) == 0


def test_one_submission_sent_eight_times_has_one_effect() -> None:
    """All eight get the same line."""
    by = make_cast().owner
    lot, key = make_lot(by), uuid4()

    found = race(
        [
            lambda: (
                waste_lot(by, lot=Lot.objects.get(pk=lot.pk), amount=Decimal(200), why="x", entry_key=key).pk
            )
        ]
        * WRITERS
    )

    lot.refresh_from_db()
    assert len(set(found)) == 1, found
    assert lot.on_hand == 800
    assert JournalEntry.objects.filter(action="lot.wasted").count() == 1


def test_eight_counts_of_the_same_balance_settle_on_what_was_found() -> None:
    """Each count is taken against the book as it is when it is written."""
    by = make_cast().owner
    lot = make_lot(by)

    def count(grams: Decimal) -> LotEntry:
        return count_lot(by, lot=Lot.objects.get(pk=lot.pk), found=grams, why="x")

    race([partial(count, Decimal(900 + number)) for number in range(WRITERS)])

    lot.refresh_from_db()
    last = LotEntry.objects.filter(lot=lot).latest("id")
    assert last.counted == lot.on_hand == ledger_sum(lot)


def test_of_eight_releases_one_is_written() -> None:
    """The others are told that it is released already."""
    by = make_cast().owner
    lot = make_lot(by)

    found = race(
        [lambda: decide_lot(by, lot=Lot.objects.get(pk=lot.pk), became="released", basis="x")] * WRITERS
    )

    assert sum(isinstance(one, LotDecision) for one in found) == 1, found
    assert LotDecision.objects.count() == 1


def test_eight_deliveries_get_eight_codes() -> None:
    """Codes are given one after the other, without a gap."""
    by = make_cast().owner

    found = race([lambda: make_lot(by).code] * WRITERS)

    year = f"{by.today():%y}"
    assert [f"{year}-L{number:03}" for number in range(1, WRITERS + 1)] == sorted(map(str, found))
    assert chain_faults(by.maker) == []


def test_the_guards_are_back_after_a_race() -> None:
    """A race before this one took them away for the flush; every declared guard is installed again."""
    expected = {guard.trigger for guard in guards.declared()}
    if connection.vendor == "postgresql":
        expected |= {name for name, _ in guards.truncate_guards()}

    assert expected == set(guards.installed())
