"""Batches that took an ingredient, itself and through in-house lots and rework, on the ingredient's page."""

from __future__ import annotations

from collections import defaultdict

import pytest
from django.db.models import Sum
from django.test import Client

from batches.models import Lot, Weighing
from batches.taken import batches_that_took
from tests.batches.fixture import make_example
from tests.cast import make_cast
from tests.formulas.pages import page

pytestmark = pytest.mark.django_db


def test_grams_are_those_of_the_worked_example(client: Client) -> None:
    """Weighings of the ingredient's own lots, by batch, newest first; the page says them."""
    cast = make_cast()
    example = make_example(cast.owner)

    rows, more = batches_that_took(cast.maker, example.oil)

    weighed = Weighing.objects.filter(lot__ingredient=example.oil).values_list("batch__code")
    assert {row.batch.code: row.grams for row in rows} == dict(weighed.annotate(Sum("grams")).order_by())
    assert (more, len(rows)) == (0, 2)
    client.force_login(cast.owner.user)
    text = page(client, cast.owner, f"ingredients/{example.oil.code}/")
    assert all(row.batch.code in text[text.index('id="h-taken"') :] for row in rows)


def reached_by_hand(starts: set[int]) -> set[int]:
    """Batches reached from lots, by walking the weighings that stand in plain Python."""
    into, made = defaultdict(set), defaultdict(set)
    nets = Weighing.objects.values_list("lot", "batch").annotate(net=Sum("grams")).order_by()
    for lot, batch, net in nets:
        if net > 0:
            into[lot].add(batch)
    for lot, batch in Lot.objects.filter(from_batch__isnull=False).values_list("pk", "from_batch"):
        made[batch].add(lot)
    found: set[int] = set()
    waiting = set(starts)
    while waiting:
        batches = set().union(*(into[lot] for lot in waiting)) - found
        found |= batches
        waiting = set().union(*(made[batch] for batch in batches))
    return found
