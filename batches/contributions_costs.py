"""What the cost of lots adds to pages of the house."""

from __future__ import annotations

from typing import Any, cast

from batches.lot_costs import cost_of
from batches.models import Batch
from makers.models import Maker
from makers.registries import RecordPanel, record_panels


def cost_panel(maker: Maker, record: Any) -> tuple[str, dict[str, Any]] | None:
    """What a batch that is made cost by the lots in it; nothing before."""
    batch = cast(Batch, record)
    if batch.bulk_g is None:
        return None
    found = cost_of(batch)
    return None if found is None else ("batches/making/panel_cost.html", {"cost": found, "batch": batch})


def register() -> None:
    """Add every contribution; called once on start."""
    record_panels.add(RecordPanel("batch cost", 60, "batches.batch", cost_panel))
