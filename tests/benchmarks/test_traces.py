"""Both traces against hand-written recursive SQL that fetches the same sets."""

from __future__ import annotations

import pytest
from django.db.models import Count

from batches.models import Batch, Lot
from batches.tracing import batches_behind, batches_reached_from, trace_back, trace_forward
from tests.benchmarks.bare import bare_trace, driver, sets_of
from tests.benchmarks.conftest import Books
from tests.benchmarks.timing import Figures

pytestmark = [pytest.mark.benchmark, pytest.mark.django_db]
TRACE_CEILING = 25.0
"""Ours makes records with all that hangs on them of 1,300 lots and 1,000 holders; the bare rows stay tuples."""
AGAINST = "recursive SQL, bare driver"


def test_a_trace_forward_takes_a_few_times_the_bare_sql(books: Books, figures: Figures) -> None:
    """From the lot that reached most batches: the same sets, in a bounded multiple of the time."""
    maker = books.large.by.maker
    often = (
        Lot.objects.for_maker(maker)
        .filter(from_batch=None)
        .annotate(uses=Count("weighings__batch", distinct=True))
        .order_by("-uses", "pk")
    )
    lot = max(often[:20], key=lambda one: len(batches_reached_from([one])))
    ask, close = driver()
    try:
        found = trace_forward(maker, [lot])
        assert len(found.batches) > 1
        assert sets_of(found) == bare_trace(ask, lot.pk, forward=True)
        figures.add(
            "trace forward",
            lambda: trace_forward(maker, [lot]),
            AGAINST,
            lambda: bare_trace(ask, lot.pk, forward=True),
            TRACE_CEILING,
            note=f"{len(found.batches)} batches, {len(found.lots)} lots, {len(found.holders)} holders",
        )
    finally:
        close()


def test_a_trace_back_takes_a_few_times_the_bare_sql(books: Books, figures: Figures) -> None:
    """From the newest product with most batches behind it: the same sets, in a bounded multiple of the time."""
    maker = books.large.by.maker
    newest = Batch.objects.for_maker(maker).filter(purpose="sale", state="released").order_by("-pk")[:40]
    batch = max(newest, key=lambda one: len(batches_behind([one])))
    ask, close = driver()
    try:
        found = trace_back(maker, [batch])
        assert len(found.batches) > 1
        assert sets_of(found) == bare_trace(ask, batch.pk, forward=False)
        figures.add(
            "trace back",
            lambda: trace_back(maker, [batch]),
            AGAINST,
            lambda: bare_trace(ask, batch.pk, forward=False),
            TRACE_CEILING,
            note=f"{len(found.batches)} batches, {len(found.lots)} lots",
        )
    finally:
        close()
