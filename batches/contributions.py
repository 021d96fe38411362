"""What the batches world contributes to the registries of the house."""

from __future__ import annotations

from batches import (
    contributions_costs,
    contributions_making,
    contributions_selling,
    contributions_stock,
    demo,
)


def register() -> None:
    """Add every contribution of this world; called once on start."""
    contributions_stock.register()
    contributions_making.register()
    contributions_selling.register()
    contributions_costs.register()
    demo.register()
