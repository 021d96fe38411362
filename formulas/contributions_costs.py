"""What prices, rates and cost contribute to the house."""

from __future__ import annotations

from makers.registries import JournalKind, journal_kinds


def register() -> None:
    """Add every contribution; called once on start."""
    for kind in (
        JournalKind(
            "articleprice.added", "wrote a price of {subject}: {amount} {currency} for {pieces} pieces"
        ),
        JournalKind("rate.added", "recorded 1 {currency} = {rate} {own} from {on}"),
        JournalKind("rate.changed", "put right the rate of {currency} of {on}: {rate}, was {was}"),
        JournalKind("costbasis.changed", "wrote work and overhead: {fields}"),
        JournalKind("productcost.changed", "wrote what the cost of {subject} rests on: {fields}"),
    ):
        journal_kinds.add(kind)
