"""What trials left on stock, at any depth: rework of a trial, and what was made with it since.

The database refuses the step itself (``makers/guards.py``), so what a trial left stays among trials. The depth
matters for books in which it went further before that was refused.
"""

from __future__ import annotations

from collections.abc import Iterable

from batches.models import Batch, Lot
from batches.querysets.stock import LotQuerySet
from batches.tracing import batches_behind, batches_reached_from
from makers.models import Maker

TRIAL = Batch.Purpose.TRIAL


def trial_behind(batch: Batch) -> Batch | None:
    """A trial that this batch is, or took something of, directly or through lots made from it; None for none."""
    if batch.purpose == TRIAL:
        return batch
    return Batch.objects.filter(pk__in=batches_behind([batch]), purpose=TRIAL).order_by("pk").first()


def with_trials_in(maker: Maker) -> set[int]:
    """Keys of the trials that left a lot, and of every batch that such a lot went into, at any depth."""
    left = list(Lot.objects.for_maker(maker).filter(from_batch__purpose=TRIAL).only("pk", "from_batch_id"))
    return {lot.from_batch_id for lot in left if lot.from_batch_id} | batches_reached_from(left)


def without_trials(lots: LotQuerySet, maker: Maker, batches: Iterable[int]) -> LotQuerySet:
    """The lots that may go into all of these batches, by their keys: into others than trials none with a trial in
    it.
    """
    tried = with_trials_in(maker)
    if not tried:
        return lots
    if not Batch.objects.filter(pk__in=set(batches)).exclude(purpose=TRIAL).exists():
        return lots
    return lots.exclude(from_batch__in=tried)
