"""How long a batch keeps, from what was really weighed in."""

from __future__ import annotations

from decimal import Decimal

from django.db.models import Sum

from batches.models import Batch, Lot
from batches.rules.expiry import BestBefore, Limit, best_before


def net_lots(batch: Batch) -> dict[int, Decimal]:
    """Grams of each lot that a batch holds, corrections taken off, by the lot's key."""
    rows = batch.weighings.values_list("lot_id").annotate(net=Sum("grams")).order_by("lot_id")
    return {lot: net for lot, net in rows if net > 0}


def limits_of(batch: Batch) -> list[Limit]:
    """The days of the lots in a batch, rework and in-house lots included."""
    lots = Lot.objects.filter(pk__in=net_lots(batch)).select_related("ingredient", "rework_of").order_by("pk")
    found = []
    for lot in lots:
        if lot.good_until is None:
            continue
        what = str(lot.ingredient) if lot.ingredient is not None else f"rework of {lot.rework_of}"
        until = "good until" if lot.date_kind == Lot.DateKind.EXPIRY else "to be tested again by"
        found.append(Limit(lot.good_until, f"{what}, lot {lot.code}, {until} {lot.good_until:%Y-%m-%d}"))
    return found


def bound_of(batch: Batch) -> BestBefore:
    """The last good day of a batch that was made, and what sets it. Needs ``made_on``."""
    if batch.made_on is None:
        return BestBefore(None, "")
    life = batch.product.life_months if batch.product is not None else None
    if batch.makes is not None:
        life = batch.makes.shelf_life_months
    return best_before(batch.made_on, life, limits_of(batch))


def rebound(batch: Batch) -> None:
    """After a correction in a batch that is made, reckon its last good day anew; packs keep theirs."""
    if batch.made_on is None:
        return
    bound = bound_of(batch)
    if (bound.day, bound.why) != (batch.best_before, batch.best_before_why):
        batch.best_before, batch.best_before_why = bound.day, bound.why
        batch.save(update_fields=["best_before", "best_before_why"])
