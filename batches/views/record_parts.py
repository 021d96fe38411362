"""Parts of the batch record: readings against what was asked, fills against the label, the accounts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from batches.actions.making_review import gate_words, within_gate
from batches.filled import packs_of, verdicts_of
from batches.models import Batch, Fill, Output, Reading
from batches.rules.balance import BatchFigures
from batches.rules.fill_chart import FillChart, draw_chart
from batches.rules.fills import FillStats, FillVerdict, fill_stats
from batches.rules.pack_fill import nominal_g
from formulas.models import Line, Product
from formulas.rules.number import figure

ZERO = Decimal(0)
LEAST_FOR_CHART = 5
"""Fills from which a control chart says anything at all. House rule, no source."""


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """A reading, what was asked, and whether it is so; verdict "" where nothing was asked."""

    reading: Reading
    asked: str
    verdict: str


def reading_rows(batch: Batch, readings: Sequence[Reading]) -> list[ReadingRow]:
    """Readings with what was asked: the step's gate, or the pH that the formula names."""
    wanted = ph_range(batch) if any(one.kind == Reading.Kind.PH for one in readings) else None
    rows = []
    for one in readings:
        if one.kind == Reading.Kind.PH and wanted is not None:
            low, high = wanted
            verdict = "within" if low <= one.value <= high else "out"
            rows.append(ReadingRow(one, f"{figure(low)} to {figure(high)}", verdict))
            continue
        so = within_gate(one)
        verdict = "" if so is None else "within" if so else "out"
        rows.append(ReadingRow(one, gate_words(one.step) if one.step is not None else "", verdict))
    return rows


def ph_range(batch: Batch) -> tuple[Decimal, Decimal] | None:
    """The pH that an adjust line of the version names, where one does."""
    line = (
        Line.objects.filter(version=batch.version_id, ph_low__isnull=False, ph_high__isnull=False)
        .order_by("position")
        .first()
    )
    if line is None or line.ph_low is None or line.ph_high is None:
        return None
    return line.ph_low, line.ph_high


@dataclass(frozen=True, slots=True)
class FillPart:
    """The weighed containers of one product: figures, verdict of each market, and the chart."""

    product: Product
    fills: list[Fill]
    stats: FillStats
    verdicts: tuple[FillVerdict, ...]
    chart: FillChart | None


def fill_parts(batch: Batch, fills: Sequence[Fill], outputs: Sequence[Output]) -> list[FillPart]:
    """One part for each product that containers were weighed of."""
    by_product: dict[int, list[Fill]] = {}
    for one in fills:
        by_product.setdefault(one.product_id, []).append(one)
    return [fill_part(batch, mine, outputs) for mine in by_product.values()]


def fill_part(batch: Batch, fills: list[Fill], outputs: Sequence[Output]) -> FillPart:
    """What the weighed containers of one product say. A net quantity by volume is not judged by weight."""
    product = fills[0].product
    grams = [one.net_g for one in fills]
    verdicts = verdicts_of(product, grams, batch_units=packs_of(batch, product, fills, outputs))
    level = nominal_g(product.net_amount, product.net_unit) or product.fill_g or fill_stats(grams).mean_g
    chart = draw_chart(grams, level) if len(grams) >= LEAST_FOR_CHART else None
    return FillPart(product, fills, fill_stats(grams), verdicts, chart)


def figures_of(batch: Batch, went_in: Decimal, outputs: Sequence[Output]) -> BatchFigures:
    """The grams of a batch by where they went."""
    sums: dict[str, Decimal] = {}
    for one in outputs:
        sums[one.kind] = sums.get(one.kind, ZERO) + one.grams
    return BatchFigures(
        went_in_g=went_in,
        bulk_g=batch.bulk_g,
        waste_g=sums.get("waste", ZERO),
        packs_g=sums.get("packs", ZERO),
        lots_g=sums.get("lot", ZERO),
        rework_g=sums.get("rework", ZERO),
        samples_g=sums.get("sample", ZERO),
        fill_loss_g=sums.get("fill_loss", ZERO),
    )
