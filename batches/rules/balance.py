"""What went into a batch and what came out: yields, and accounts that close."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from formulas.rules.number import HUNDRED

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class BatchFigures:
    """Grams by where they went. bulk_g None: the bulk was not weighed yet.

    packs_g: filled into packs. lots_g: put on stock as an ingredient. rework_g: set aside.
    """

    went_in_g: Decimal
    bulk_g: Decimal | None = None
    waste_g: Decimal = ZERO
    packs_g: Decimal = ZERO
    lots_g: Decimal = ZERO
    rework_g: Decimal = ZERO
    samples_g: Decimal = ZERO
    fill_loss_g: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class Account:
    """Two accounts: of the process (what went in) and of the bulk (what was filled and set aside).

    Yields in percent; None where there is nothing to compare with.
    """

    bulk_yield: Decimal | None
    process_unaccounted_g: Decimal | None
    process_accounted: Decimal | None
    bulk_taken_g: Decimal
    bulk_left_g: Decimal | None


def account(figures: BatchFigures) -> Account:
    """Reckon both accounts. The theoretical yield is all that went in (21 CFR 210.3(b)(17)-(19))."""
    taken = (
        figures.packs_g + figures.lots_g + figures.rework_g + figures.samples_g + figures.fill_loss_g
    )
    if figures.bulk_g is None:
        return Account(None, None, None, taken, None)
    known = figures.bulk_g + figures.waste_g
    whole = figures.went_in_g
    return Account(
        bulk_yield=percent(figures.bulk_g, whole),
        process_unaccounted_g=whole - known,
        process_accounted=percent(known, whole),
        bulk_taken_g=taken,
        bulk_left_g=figures.bulk_g - taken,
    )


def percent(part: Decimal, whole: Decimal) -> Decimal | None:
    """``part`` as percent of ``whole``; None of nothing."""
    return part * HUNDRED / whole if whole > ZERO else None


def theoretical_units(went_in_g: Decimal, fill_g: Decimal) -> int:
    """Whole packs that everything that went in would fill."""
    return int(went_in_g // fill_g) if fill_g > ZERO else 0
