"""How long a batch keeps: no longer than its own life, nor than anything in it."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date


def add_months(day: date, months: int) -> date:
    """The same day so many months later; the month's last day where it has no such day."""
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


@dataclass(frozen=True, slots=True)
class Limit:
    """A day that bounds the batch, and what sets it."""

    day: date
    words: str


@dataclass(frozen=True, slots=True)
class BestBefore:
    """The last good day and why; None when nothing says."""

    day: date | None
    why: str


def best_before(made_on: date, life_months: int | None, limits: Sequence[Limit]) -> BestBefore:
    """The earliest of the batch's own life and the days of the lots and rework in it.

    Conservative common practice, no law read: a product keeps no longer than its shortest-lived lot.
    """
    found = list(limits)
    if life_months:
        found.append(Limit(add_months(made_on, life_months), f"{life_months} months from {made_on:%Y-%m-%d}"))
    if not found:
        return BestBefore(None, "Nothing says how long it keeps.")
    first = min(found, key=lambda limit: (limit.day, limit.words))
    return BestBefore(first.day, f"Set by {first.words}.")
