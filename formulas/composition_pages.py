"""A composition as its page shows it: one row per substance with low, typical, high and where they lie."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from formulas.assembly import as_rule_composition, in_force
from formulas.models import Composition, Ingredient, Source
from formulas.rules.composition import Share, shares
from formulas.rules.findings import Finding
from formulas.rules.interval import Interval
from formulas.rules.number import HUNDRED
from makers.rules.display import Rounding, decimals_of, rounded

SCALES = tuple(Decimal(one) for one in ("0.1", "0.5", "1", "2", "5", "10", "20", "50", "100"))
"""Widths of the picture, percent; the smallest that holds every known end is taken."""

PICTURE = Decimal(200)
DERIVED_PLACES = 2


@dataclass(frozen=True, slots=True)
class Span:
    """Where a share lies in the picture, 0 to 200."""

    start: Decimal
    end: Decimal
    typical: Decimal | None


@dataclass(frozen=True, slots=True)
class ShareRow:
    """A substance in a composition. An end that is None is not known, unless only one figure was given.

    Ends may follow from order and sum, which ``how`` then says; those are rounded outwards to two decimals.
    """

    name: str
    key: str
    rank: int | None
    low: Decimal | None
    typical: Decimal | None
    high: Decimal | None
    is_one_figure: bool
    how: str
    incidental: str
    span: Span | None


@dataclass(frozen=True, slots=True)
class CompositionPage:
    """A composition with its rows. scale: percent at the right end of the picture."""

    record: Composition
    declared: list[ShareRow]
    within: list[ShareRow]
    remainder: Interval | None
    findings: tuple[Finding, ...]
    scale: Decimal
    counts: bool


@dataclass(frozen=True, slots=True)
class SourceCompositions:
    """All compositions of one source, or of every source; the newest first."""

    source: Source | None
    newest: CompositionPage
    earlier: list[CompositionPage]


def composition_page(row: Ingredient, record: Composition, *, counts: bool = False) -> CompositionPage:
    """Work out a composition; constituents and substances must be loaded. counts: reviews go by it."""
    found = shares(as_rule_composition(record, row.name))
    reasons = {
        (part.kind, part.substance.key): part.incidental_reason
        for part in record.constituents.all()
        if part.incidental
    }
    spread = [one.interval for one in (*found.declared, *found.within) if not one.interval.is_point]
    ends = [interval.high for interval in spread if interval.high is not None]
    scale = next((one for one in SCALES if all(end <= one for end in ends)), SCALES[-1])

    def row_of(share: Share) -> ShareRow:
        part = share.constituent
        low, high = share.interval.low, share.interval.high
        return ShareRow(
            name=part.name,
            key=part.substance,
            rank=part.rank,
            low=None if share.estimated else outward(low, part.low, "down"),
            typical=part.typical,
            high=None if share.estimated else outward(high, part.high, "up"),
            is_one_figure=share.estimated,
            how=how_known(share),
            incidental=reasons.get((part.kind, part.substance), ""),
            span=span_of(share.interval, scale),
        )

    return CompositionPage(
        record=record,
        declared=[row_of(share) for share in found.declared],
        within=[row_of(share) for share in found.within],
        remainder=found.remainder,
        findings=found.findings,
        scale=scale,
        counts=counts,
    )


def outward(end: Decimal | None, given: Decimal | None, way: Rounding) -> Decimal | None:
    """A given figure as given; one that follows from order and sum with two decimals, rounded outwards."""
    if end is None or end == given or decimals_of(end) <= DERIVED_PLACES:
        return end
    return rounded(end, DERIVED_PLACES, way)


def how_known(share: Share) -> str:
    """How the ends of a share are known, where that isn't the supplier's figure."""
    if share.estimated:
        return "" if share.constituent.typical == HUNDRED else "one figure, no range given"
    return "by order and sum" if share.derived else ""


def span_of(interval: Interval, scale: Decimal) -> Span | None:
    """Where an interval lies in the picture; None for one figure and where an end is not known."""
    if interval.low is None or interval.high is None or interval.is_point:
        return None

    def at(percent: Decimal) -> Decimal:
        return rounded(percent * PICTURE / scale, 1)

    typical = None if interval.typical is None else at(interval.typical)
    return Span(at(interval.low), at(interval.high), typical)


def by_source(row: Ingredient, records: Iterable[Composition]) -> list[SourceCompositions]:
    """Compositions of each source apart: the one that reviews go by first, then by supplier."""
    records = sorted(records, key=lambda one: one.number, reverse=True)
    chosen = in_force(records)
    groups: dict[int | None, list[CompositionPage]] = {}
    for record in records:
        page = composition_page(row, record, counts=record is chosen)
        groups.setdefault(record.source_id, []).append(page)
    found = [SourceCompositions(pages[0].record.source, pages[0], pages[1:]) for pages in groups.values()]
    return sorted(found, key=lambda one: (not one.newest.counts, str(one.source or "")))
