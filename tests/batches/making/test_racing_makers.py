"""Eight hands at one bench: nothing is weighed twice, no code is given twice, one decision is signed."""

from __future__ import annotations

from decimal import Decimal
from uuid import uuid4

import pytest
from django.db.models import Sum

from batches.actions.making import take_back, weigh, yield_output
from batches.contributions_making import weighings_agree
from batches.models import Batch, BatchLine, Lot, LotEntry, Output, Release, Weighing
from makers.actions import Refused
from makers.actions.journal import chain_faults
from tests.batches.making.factories_making import (
    line_at,
    lot_for,
    make_accounted,
    make_made,
    make_making,
    make_plan,
    make_version,
    scale_of,
    sign,
    weigh_line,
)
from tests.cast import make_cast
from tests.racing import committed, race

__all__ = ["committed"]
pytestmark = pytest.mark.usefixtures("committed")
WRITERS = 8


def test_of_eight_who_weigh_200_of_1000_five_get_it() -> None:
    """The others are told what is left; both books agree."""
    by = make_cast().owner
    batch = make_making(by, make_version(by))
    line = line_at(batch)
    lot = lot_for(by, line)

    def act() -> Weighing:
        return weigh(
            by,
            batch=Batch.objects.get(pk=batch.pk),
            line=BatchLine.objects.get(pk=line.pk),
            lot=Lot.objects.get(pk=lot.pk),
            grams=Decimal(200),
            why="In parts.",
        )

    found = race([act] * WRITERS)

    lot.refresh_from_db()
    assert sum(isinstance(one, Weighing) for one in found) == 5, found
    assert sum(isinstance(one, Refused) for one in found) == 3, found
    assert lot.on_hand == 0
    assert LotEntry.objects.filter(lot=lot).aggregate(all=Sum("amount"))["all"] == 0
    assert weighings_agree(by.maker) == []
    assert chain_faults(by.maker) == []


def test_one_entry_sent_eight_times_is_weighed_once() -> None:
    """Every arrival gets the first weighing."""
    by = make_cast().owner
    batch, key = make_making(by), uuid4()
    line = line_at(batch)
    lot = lot_for(by, line)

    found = race(
        [lambda: weigh(by, batch=batch, line=line, lot=lot, grams=Decimal(700), entry_key=key).pk] * WRITERS
    )

    assert len(set(found)) == 1, found
    assert Weighing.objects.count() == 1


def test_of_eight_who_take_a_weighing_back_one_does() -> None:
    """The grams return once."""
    by = make_cast().owner
    batch = make_making(by)
    weighing = weigh_line(by, batch)

    found = race([lambda: take_back(by, weighing=weighing, why="x")] * WRITERS)

    weighing.lot.refresh_from_db()
    assert sum(isinstance(one, Weighing) for one in found) == 1, found
    assert weighing.lot.on_hand == 1000


def test_of_eight_who_sign_one_does() -> None:
    """A batch has one decision."""
    by = make_cast().owner
    batch = make_accounted(by)

    found = race([lambda: sign(by, Batch.objects.get(pk=batch.pk))] * WRITERS)

    assert sum(isinstance(one, Release) for one in found) == 1, found
    assert Release.objects.count() == 1


def test_the_bulk_is_not_set_aside_twice() -> None:
    """990 g of bulk: of eight who set 300 g aside, three do."""
    by = make_cast().owner
    batch = make_made(by)

    found = race([lambda: yield_output(by, batch=batch, kind="rework", grams=Decimal(300))] * WRITERS)

    assert sum(isinstance(one, Output) for one in found) == 3, found


def test_eight_plans_get_eight_codes_and_one_plan_sent_eight_times_one() -> None:
    """In sequence, without a gap."""
    by = make_cast().owner
    version, key = make_version(by), uuid4()
    scale_of(by.maker)
    year = f"{by.today():%y}"

    found = race([lambda: make_plan(by, version).code] * WRITERS)
    again = race([lambda: make_plan(by, version, entry_key=key).pk] * WRITERS)

    assert sorted(map(str, found)) == [f"{year}-{number:04}" for number in range(1, WRITERS + 1)]
    assert len(set(again)) == 1, again
    assert Batch.objects.count() == WRITERS + 1
