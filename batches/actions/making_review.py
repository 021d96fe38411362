"""What stands open in a batch record, and the digest that a release signs."""

from __future__ import annotations

import json
from collections.abc import Sequence
from decimal import Decimal
from typing import Any, cast

from django.db.models import Model, Sum

from batches.actions.making_bench import judged_line, name_of
from batches.actions.making_dates import net_lots
from batches.actions.making_yield import lines_now
from batches.actions.selling import bulk_left
from batches.models import Batch, BatchLine, BatchStep, Lot, Output, Reading
from batches.trial_lots import trial_behind
from formulas.rules.number import figure
from makers.actions.journal import digest_of, plain
from makers.models import Maker
from makers.registries import Fault, OpenPoint, release_checks

ZERO = Decimal(0)


def open_points(batch: Batch) -> list[OpenPoint]:
    """Everything that stands in the way of a release, asked of every world."""
    return [point for release_check in release_checks for point in release_check.points(batch)]


def own_points(record: Model) -> Sequence[OpenPoint]:
    """What the batch record itself leaves open; a constant number of queries."""
    batch = cast(Batch, record)
    return [
        *hold_points(batch),
        *line_points(batch),
        *deviation_points(batch),
        *check_points(batch),
        *reading_points(batch),
        *lot_points(batch),
        *trial_points(batch),
        *account_points(batch),
    ]


def hold_points(batch: Batch) -> list[OpenPoint]:
    """A hold blocks."""
    return [OpenPoint("hold", "The batch is on hold.", blocks=True)] if batch.held else []


def line_points(batch: Batch) -> list[OpenPoint]:
    """Lines that hold nothing, and lines outside their tolerance that nobody wrote a deviation about."""
    now = lines_now(batch)
    points = [
        OpenPoint(f"line-{line.position}", f"{name_of(line)} was not weighed.", blocks=True)
        for line in now.without
    ]
    for line in now.lines:
        grams = now.held.get(line.pk, ZERO)
        judged = judged_line(line, grams)
        if grams > 0 and judged.verdict != "within" and line.pk not in now.explained:
            points.append(OpenPoint(f"off-{line.position}", f"{name_of(line)}: {judged.fact}", blocks=False))
    return points


def deviation_points(batch: Batch) -> list[OpenPoint]:
    """Nothing is released with an open or a refused deviation."""
    points = []
    for one in batch.deviations.select_related("judgement"):
        judgement = getattr(one, "judgement", None)
        if judgement is None:
            points.append(OpenPoint(f"deviation-{one.pk}", f"Not judged yet: {one.text}", blocks=True))
        elif not judgement.accepted:
            points.append(
                OpenPoint(f"refused-{one.pk}", f"Judged as not acceptable: {one.text}", blocks=True)
            )
    return points


def check_points(batch: Batch) -> list[OpenPoint]:
    """Checks that were not so."""
    return [
        OpenPoint(f"check-{one.pk}", f"{one.question}: no. {one.note}", blocks=False)
        for one in batch.checks.filter(passed=False)
    ]


def gate_words(step: BatchStep) -> str:
    """The temperatures that a step asks for, in words."""
    if step.min_c is not None and step.max_c is not None:
        return f"{figure(step.min_c)} to {figure(step.max_c)} °C"
    if step.max_c is not None:
        return f"{figure(step.max_c)} °C or below"
    if step.min_c is not None:
        return f"{figure(step.min_c)} °C or above"
    return f"{figure(step.target_c)} °C" if step.target_c is not None else ""


def within_gate(reading: Reading) -> bool | None:
    """Whether a reading is within its step's gate; None where nothing was asked."""
    step = reading.step
    if (
        reading.kind != Reading.Kind.TEMPERATURE
        or step is None
        or (step.min_c is None and step.max_c is None)
    ):
        return None
    too_cold = step.min_c is not None and reading.value < step.min_c
    too_hot = step.max_c is not None and reading.value > step.max_c
    return not (too_cold or too_hot)


def reading_points(batch: Batch) -> list[OpenPoint]:
    """Readings outside the gate of the step that they were taken at."""
    return [
        OpenPoint(
            f"reading-{one.pk}",
            f"{figure(one.value)} °C at step {one.step.position}; the step says {gate_words(one.step)}.",
            blocks=False,
        )
        for one in batch.readings.select_related("step")
        if one.step is not None and within_gate(one) is False
    ]


def lot_points(batch: Batch) -> list[OpenPoint]:
    """Lots in the batch that are on hold, or were put back or rejected since."""
    points = []
    for lot in Lot.objects.filter(pk__in=net_lots(batch)).order_by("pk"):
        if lot.held:
            points.append(OpenPoint(f"lot-{lot.code}", f"Lot {lot.code} is on hold.", blocks=True))
        elif lot.status != "released":
            word = lot.get_status_display().lower()
            points.append(OpenPoint(f"lot-{lot.code}", f"Lot {lot.code} is {word} now.", blocks=True))
    return points


def trial_points(batch: Batch) -> list[OpenPoint]:
    """A trial in what is no trial blocks, at any depth."""
    trial = None if batch.purpose == Batch.Purpose.TRIAL else trial_behind(batch)
    if trial is None:
        return []
    text = f"Trial {trial} is in it, and trials are never sold. Take that weighing back, or reject the batch."
    return [OpenPoint("trial", text, blocks=True)]


def account_points(batch: Batch) -> list[OpenPoint]:
    """An account that does not close: too much counts as well as too little (21 CFR 211.192)."""
    points = []
    left = bulk_left(batch)
    if left:
        points.append(OpenPoint("bulk", f"{figure(left)} g of the bulk have no account yet.", blocks=False))
    if batch.bulk_g is not None:
        went_in = sum(net_lots(batch).values(), ZERO)
        waste = batch.outputs.filter(kind=Output.Kind.WASTE).aggregate(sum=Sum("grams"))["sum"] or ZERO
        over = batch.bulk_g + waste - went_in
        if over > 0:
            points.append(OpenPoint("over", f"{figure(over)} g more came out than went in.", blocks=False))
    return points


def content_of(batch: Batch) -> dict[str, Any]:
    """What a release signs: plan, lines, weighings, readings, fills, checks, deviations and outputs.

    Rows are named by UUID and stand in that order, so that the digest holds in a restored book too. Packs are
    left out: they may be filled afterwards.
    """

    def rows(records: Any, *names: str) -> list[Any]:
        return sorted([plain(value) for value in row] for row in records.values_list("uuid", *names))

    return {
        "batch": [
            plain(value)
            for value in (
                batch.uuid,
                batch.code,
                batch.version.uuid,
                batch.planned_g,
                batch.bulk_g,
                batch.made_on,
            )
        ],
        "lines": rows(batch.lines, "kind", "planned_g", "low_g", "high_g", "tolerance_g", "why"),
        "weighings": rows(batch.weighings, "line__uuid", "lot__uuid", "grams", "user__uuid", "why"),
        "readings": rows(batch.readings, "kind", "value", "unit", "conditions"),
        "fills": rows(batch.fills, "net_g"),
        "checks": rows(batch.checks, "question", "passed", "note"),
        "deviations": rows(batch.deviations, "text", "judgement__accepted", "judgement__text"),
        "outputs": rows(batch.outputs.exclude(kind=Output.Kind.PACKS), "kind", "grams"),
    }


def content_digest(batch: Batch) -> str:
    """The digest over a batch's content."""
    text = json.dumps(content_of(batch), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return digest_of(text)


def signature_faults(maker: Maker) -> list[Fault]:
    """Closed batches whose content is no longer what their last decision signed."""
    found = []
    closed = (
        Batch.objects.for_maker(maker)
        .filter(state__in=(Batch.State.RELEASED, Batch.State.REJECTED))
        .select_related("version")
        .order_by("pk")
    )
    for batch in closed:
        last = batch.releases.order_by("-pk").first()
        where = f"batch {batch.code}"
        if last is None:
            found.append(Fault(where, "It is closed, and nobody signed that."))
        elif last.decision != batch.state:
            found.append(Fault(where, f"It is {batch.state}; the decision signed last is {last.decision}."))
        elif last.content_digest != content_digest(batch):
            found.append(Fault(where, "Its record is not the one that was signed."))
    return found


def line_faults(maker: Maker) -> list[Fault]:
    """Batches whose planned lines don't add up to what was planned."""
    planned = dict(
        BatchLine.objects.for_maker(maker)
        .filter(kind=BatchLine.Kind.FORMULA)
        .values_list("batch_id")
        .annotate(sum=Sum("planned_g"))
        .order_by("batch_id")
    )
    return [
        Fault(f"batch {batch.code}", f"Its lines plan {planned[batch.pk]} g, the batch {batch.planned_g} g.")
        for batch in Batch.objects.for_maker(maker).filter(pk__in=planned).order_by("pk")
        if planned[batch.pk] != batch.planned_g
    ]
