"""How large a made-up book is. Everything else follows from the batches and the weighings."""

from __future__ import annotations

import os
from dataclasses import dataclass

DEEPEST = 8
"""Batches on the longest way from a bought lot to a product."""


@dataclass(frozen=True, slots=True)
class Size:
    """``batches`` and ``weighings`` are met exactly; the rest is in proportion, and at least 30 of each."""

    batches: int = 1_000
    weighings: int = 30_000
    dispatches_each: int = 3

    def __post_init__(self) -> None:
        if self.batches < 2 * DEEPEST or self.weighings < 6 * self.batches:
            raise ValueError("A book has 16 batches or more, and 6 weighings or more in each.")

    @property
    def lines(self) -> int:
        """Lines of each formula; the other weighings are second portions and second lots."""
        return min(self.weighings // self.batches * 4 // 5, 60)

    @property
    def ingredients(self) -> int:
        """Bought ingredients."""
        return max(30, self.lines, self.batches // 5)

    @property
    def formulas(self) -> int:
        """Formulas of products for sale."""
        return max(30, self.batches // 10)

    @property
    def recipients(self) -> int:
        """Whom packs went to."""
        return max(30, self.batches // 5)

    @property
    def few(self) -> int:
        """Of what a house has few of: suppliers, articles, stalls, sheets, rehearsed recalls."""
        return max(30, self.batches // 20)

    @property
    def complaints(self) -> int:
        """Complaints on packs."""
        return max(30, self.batches // 10)


SMALL = Size(batches=40, weighings=1_200, dispatches_each=1)


def asked_size() -> Size:
    """The size from BENCHMARK_BATCHES and BENCHMARK_WEIGHINGS, else the default; weighings default to 30 each."""
    batches = int(os.environ.get("BENCHMARK_BATCHES", Size().batches))
    return Size(batches, int(os.environ.get("BENCHMARK_WEIGHINGS", batches * 30)))
