"""Counting in what was on the shelf on the first day."""

from __future__ import annotations

from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied

from batches.actions.stock import count_in
from batches.models import Lot, LotEntry
from makers.actions import By, Refused
from makers.models import JournalEntry
from tests.batches.stock.factories_stock import (
    in_days,
    line,
    make_article,
    make_composition,
    make_ingredient,
    make_opening,
)
from tests.cast import Cast


def test_a_counted_lot_is_of_unknown_provenance_and_in_quarantine(by: By) -> None:
    """Its origin is the opening count; nobody is named as its supplier."""
    lot = make_opening(by, amount="340")

    assert (lot.origin, lot.status, lot.delivery) == ("opening", "quarantine", None)
    assert ("opening", Decimal(340)) == (lot.entries.get().kind, lot.on_hand)


def test_jars_are_counted_in_pieces(by: By) -> None:
    """An article is counted."""
    lot = make_opening(by, make_article(by.maker), "24")

    assert ("pieces", Decimal(24)) == (lot.unit, lot.on_hand)


def test_it_takes_the_general_composition_and_freezes_it(by: By) -> None:
    """Who sold it is unknown, what the material is is not."""
    ingredient = make_ingredient(by.maker)
    composition = make_composition(ingredient)

    lot = make_opening(by, ingredient)

    composition.refresh_from_db()
    assert lot.composition == composition
    assert composition.frozen_at is not None


def test_a_repeated_count_is_one_lot(by: By) -> None:
    """A double tap counts once."""
    key, ingredient = uuid4(), make_ingredient(by.maker)

    assert make_opening(by, ingredient, entry_key=key) == make_opening(by, ingredient, entry_key=key)
    assert Lot.objects.count() == LotEntry.objects.count() == JournalEntry.objects.count() == 1


def test_a_count_of_nothing_is_refused(by: By) -> None:
    """What isn't there needs no lot."""
    with pytest.raises(Refused, match="above 0"):
        make_opening(by, amount="0")


def test_a_count_of_tomorrow_is_refused(by: By) -> None:
    """Counts are of today or past days."""
    with pytest.raises(Refused, match="still to come"):
        make_opening(by, received_on=in_days(by, 1))


def test_readers_and_strangers_count_nothing_in(cast: Cast) -> None:
    """Readers look; another maker's ingredient is not in the book."""
    ingredient = make_ingredient(cast.maker)

    with pytest.raises(PermissionDenied):
        count_in(cast.reader, **line(ingredient))
    with pytest.raises(Refused, match="not in this book"):
        count_in(cast.stranger, **line(ingredient))
