"""Batches that took an ingredient: its own lots, or in-house and rework lots in which those went."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, cast

from django.db.models import Sum

from batches.models import Batch, Lot, Weighing
from batches.tracing import batches_reached_from
from formulas.models import Ingredient
from makers.models import Maker

MOST_SHOWN = 12
MOST_FOLDED = 200
"""Batches that an ingredient's page lists, and how many more stand folded below them."""


@dataclass(frozen=True, slots=True)
class Taken:
    """A batch. grams: of the ingredient's own lots, corrections taken off; None = only through other lots."""

    batch: Batch
    grams: Decimal | None


def batches_that_took(maker: Maker, ingredient: Ingredient) -> tuple[list[Taken], int]:
    """The newest batches first, and how many there are besides. Four queries."""
    lots = list(Lot.objects.for_maker(maker).filter(ingredient=ingredient).only("pk"))
    reached = batches_reached_from(lots)
    most = MOST_SHOWN + MOST_FOLDED
    rows = Batch.objects.for_maker(maker).filter(pk__in=reached).select_related("formula", "version")
    shown = list(rows.order_by("-pk")[:most])
    weighed = (
        Weighing.objects.for_maker(maker)
        .filter(batch__in=shown, lot__ingredient=ingredient)
        .order_by()
        .values_list("batch")
        .annotate(net=Sum("grams"))
    )
    grams = {batch: net for batch, net in weighed if net > 0}
    return [Taken(batch, grams.get(batch.pk)) for batch in shown], len(reached) - len(shown)


def taken_panel(maker: Maker, record: Any) -> tuple[str, dict[str, Any]] | None:
    """The batches that took an ingredient, on its page."""
    rows, more = batches_that_took(maker, cast(Ingredient, record))
    return "batches/making/_taken_panel.html", {
        "rows": rows[:MOST_SHOWN],
        "folded": rows[MOST_SHOWN:],
        "count": len(rows) + more,
        "more": more,
    }
