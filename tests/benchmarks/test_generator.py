"""The made-up book is one that the house would keep: of the size asked, and without a fault."""

from __future__ import annotations

import pytest
from django.db.models import Count

from batches.models import Batch, Lot, Weighing
from makers.actions.checking import faults_of, guard_faults
from tests.benchmarks.conftest import Books
from tests.benchmarks.size import DEEPEST

pytestmark = [pytest.mark.benchmark, pytest.mark.django_db]


@pytest.mark.parametrize("which", ["small", "large"])
def test_a_book_is_of_its_size_and_without_a_fault(books: Books, which: str) -> None:
    """Batches and weighings are met exactly, chains go 8 deep, balances agree, guards are back."""
    book = books.small if which == "small" else books.large
    maker = book.by.maker
    assert Batch.objects.for_maker(maker).count() == book.size.batches
    assert Weighing.objects.for_maker(maker).count() == book.size.weighings
    assert book.house.deepest == DEEPEST
    held = {lot.pk: int(lot.on_hand * 10) for lot in Lot.objects.for_maker(maker).filter(on_hand__gt=0)}
    assert held == {lot: tenths for lot, tenths in book.house.left.items() if tenths}
    assert list(faults_of(maker)) == []
    assert guard_faults() == []


def test_rework_goes_into_later_batches(books: Books) -> None:
    """Leftovers are taken in again, as in a real house."""
    taken = Lot.objects.for_maker(books.large.by.maker).filter(rework_of__isnull=False)
    assert taken.annotate(times=Count("weighings")).filter(times__gt=0).exists()
