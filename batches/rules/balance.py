"""What went into a batch and what came out: yields, and accounts that close."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from formulas.rules.number import HUNDRED, ZERO, difference, figure


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
    taken = figures.packs_g + figures.lots_g + figures.rework_g + figures.samples_g + figures.fill_loss_g
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


@dataclass(frozen=True, slots=True)
class Yields:
    """Percentages of the theoretical yield, each against the same phase; None where there is nothing to
    compare.

    theoretical_units: as a ratio, so half a pack counts; the whole packs are ``theoretical_units()``.
    """

    bulk: Decimal | None
    filled: Decimal | None
    for_sale: Decimal | None
    unaccounted: Decimal | None


def yields(figures: BatchFigures, *, fill_g: Decimal, filled_units: int, for_sale_units: int) -> Yields:
    """Bulk and units against what everything that went in would give (21 CFR 210.3(b)(17)-(19), 211.103)."""
    sums = account(figures)

    def of_units(units: int) -> Decimal | None:
        return percent(units * fill_g, figures.went_in_g)

    return Yields(
        bulk=sums.bulk_yield,
        filled=of_units(filled_units),
        for_sale=of_units(for_sale_units),
        unaccounted=None
        if sums.process_unaccounted_g is None
        else percent(sums.process_unaccounted_g, figures.went_in_g),
    )


@dataclass(frozen=True, slots=True)
class UnitFigures:
    """Units of a batch by where they are now."""

    filled: int
    with_recipients: int = 0
    returned: int = 0
    on_shelf: int = 0
    retained: int = 0
    destroyed: int = 0

    @property
    def missing(self) -> int:
        """Units that no record places; below 0 when more are placed than were filled."""
        return self.filled - (
            self.with_recipients + self.returned + self.on_shelf + self.retained + self.destroyed
        )

    @property
    def accounted(self) -> Decimal | None:
        """Share of the filled units that is placed, %; None of nothing."""
        return percent(Decimal(self.filled - self.missing), Decimal(self.filled))


def sentences(figures: BatchFigures) -> tuple[str, ...]:
    """Both accounts read out. Too much is said like too little: either wants its cause (21 CFR 211.192)."""
    sums = account(figures)
    if sums.process_unaccounted_g is None or sums.bulk_left_g is None:
        return (f"{figure(figures.went_in_g)} g went in; the bulk was not weighed yet.",)
    return (
        _closes(figures.went_in_g, sums.process_unaccounted_g, "went in"),
        _closes(figures.bulk_g or ZERO, sums.bulk_left_g, "of bulk"),
    )


def _closes(whole: Decimal, left: Decimal, words: str) -> str:
    if not left:
        return f"{figure(whole)} g {words}, all accounted for."
    known = difference(whole, left)
    if left > ZERO:
        return f"{figure(whole)} g {words}, {figure(known)} g accounted for: {figure(left)} g missing."
    return f"{figure(whole)} g {words}, {figure(known)} g accounted for: {figure(-left)} g too many."
