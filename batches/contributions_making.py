"""What batches contribute to the house."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.db.models import F, Sum
from django.utils import timezone

from batches.actions.making_review import line_faults, own_points, signature_faults
from batches.filled import fill_points
from batches.models import Batch, Lot, LotEntry, Weighing
from batches.shelf_watch import free_to_use
from batches.taken import taken_panel
from batches.trials import trial_panel
from makers.http import address
from makers.models import Code, Maker
from makers.registries import (
    CodeKind,
    ExportTable,
    Fault,
    FirstStep,
    Found,
    JournalKind,
    NavigationPlace,
    RecordCheck,
    RecordPanel,
    ReleaseCheck,
    SearchSource,
    StockSource,
    TodayItem,
    TodaySource,
    code_kinds,
    export_tables,
    first_steps,
    ingredient_stock,
    journal_kinds,
    navigation,
    record_checks,
    record_panels,
    release_checks,
    search_sources,
    today_items,
)
from makers.rules.display import grams
from makers.rules.reading import decimal_mark

State = Batch.State
MOST_TODAY = 40
"""Batches that Today names; more than these wait on the list of batches."""

EXPORTED = (
    ("batches", 320, "batches.Batch"),
    ("batch_lines", 350, "batches.BatchLine"),
    ("batch_steps", 351, "batches.BatchStep"),
    ("weighings", 355, "batches.Weighing"),
    ("readings", 356, "batches.Reading"),
    ("fills", 357, "batches.Fill"),
    ("checks", 358, "batches.Check"),
    ("deviations", 361, "batches.Deviation"),
    ("deviation_judgements", 362, "batches.DeviationJudgement"),
    ("amendments", 363, "batches.Amendment"),
    ("releases", 364, "batches.Release"),
    ("batch_notes", 365, "batches.BatchNote"),
    ("trial_notes", 366, "batches.TrialNote"),
    ("outputs", 380, "batches.Output"),
    ("retained_samples", 381, "batches.RetainedSample"),
)
"""Batches come before the lots that they made, their lines after (rework is a lot); outputs after packs."""


def batch_url(maker: Maker, code: Code) -> str:
    """A batch's page."""
    return address(maker, "batches:batch", code=code.text)


def find(maker: Maker, words: str, most: int) -> Sequence[Found]:
    """Batches by the name of what they make."""
    rows = Batch.objects.for_maker(maker).filter(formula__name__icontains=words).select_related("formula")
    return [
        Found(
            f"{row.formula}, batch {row.code}",
            address(maker, "batches:batch", code=row.code),
            "Batch",
            row.code,
        )
        for row in rows.order_by("-pk")[:most]
    ]


def in_hand(maker: Maker, today: date) -> Sequence[TodayItem]:
    """Batches on the bench, made but not judged, and planned. One on hold is named by its hold alone."""
    rows = (
        Batch.objects.for_maker(maker)
        .filter(state__in=[State.MAKING, State.MADE, State.PLANNED], held=False)
        .select_related("formula")
        .order_by("pk")
    )
    return [today_item(maker, row, today) for row in rows[:MOST_TODAY]]


def today_item(maker: Maker, row: Batch, today: date) -> TodayItem:
    """What Today says of one batch."""
    url = address(maker, "batches:batch", code=row.code)
    mark = decimal_mark(maker.locale)
    name = f"{row.formula}, batch {row.code}"
    shown: dict[str, Any] = {"figure": grams(row.planned_g, mark=mark), "figure_note": "g planned"}
    if row.state == State.MAKING:
        bench = address(maker, "batches:bench", code=row.code)
        text = f"{name}, is on the bench."
        return TodayItem(
            "making", "Making", text, url, act="Go to the bench", act_url=bench, now=True, order=1, **shown
        )
    if row.state == State.MADE:
        shown = (
            {}
            if row.bulk_g is None
            else {"figure": grams(row.bulk_g, mark=mark), "figure_note": "g obtained"}
        )
        release = f"{url}#release"
        text = f"{name}, waits for release."
        return TodayItem(
            "made", "Made", text, url, act="Judge and release", act_url=release, order=20, **shown
        )
    when = row.planned_for.isoformat() if row.planned_for else "Planned"
    due = row.planned_for is not None and row.planned_for <= today
    text = f"{name}, is planned."
    return TodayItem("planned", when, text, url, act="Open the plan", now=due, order=60, **shown)


def weighings_agree(maker: Maker) -> Sequence[Fault]:
    """What weighings took from each lot for each batch stands in the stock ledger too."""
    weighed = {
        (lot, batch): grams
        for lot, batch, grams in Weighing.objects.for_maker(maker)
        .values_list("lot_id", "batch_id")
        .annotate(sum=Sum("grams"))
        .order_by("lot_id", "batch_id")
    }
    kinds = [LotEntry.Kind.WEIGHED, LotEntry.Kind.REVERSED]
    moved = {
        (lot, batch): -amount
        for lot, batch, amount in LotEntry.objects.for_maker(maker)
        .filter(kind__in=kinds, batch__isnull=False)
        .exclude(lot__from_batch=F("batch"))
        .values_list("lot_id", "batch_id")
        .annotate(sum=Sum("amount"))
        .order_by("lot_id", "batch_id")
    }
    wrong = sorted(key for key in weighed.keys() | moved.keys() if weighed.get(key, 0) != moved.get(key, 0))
    lots = Lot.objects.in_bulk([lot for lot, _ in wrong])
    batches = Batch.objects.in_bulk([batch for _, batch in wrong])
    return [
        Fault(
            f"lot {lots[key[0]]} in batch {batches[key[1]]}",
            f"Weighings say {weighed.get(key, 0)} g, the ledger {moved.get(key, 0)} g.",
        )
        for key in wrong
    ]


def grams_on_hand(maker: Maker, ingredients: Sequence[int]) -> dict[int, object]:
    """Grams of each ingredient in lots that are not rejected."""
    rows = (
        Lot.objects.for_maker(maker)
        .filter(ingredient__in=ingredients)
        .exclude(status="rejected")
        .values_list("ingredient_id")
        .annotate(sum=Sum("on_hand"))
        .order_by("ingredient_id")
    )
    return dict(rows)


def grams_free(maker: Maker, ingredients: Sequence[int]) -> dict[int, object]:
    """Grams of each ingredient that may be used today: released, unheld, in date."""
    grams_by_key, _ = free_to_use(maker, timezone.now().astimezone(maker.zone).date())
    return {key: grams_by_key[key] for key in ingredients if key in grams_by_key}


def register() -> None:
    """Add every contribution; called once on start."""
    from batches import urls_making, urls_selling

    within = tuple(f"batches:{one.name}" for one in [*urls_making.patterns, *urls_selling.patterns])
    navigation.add(NavigationPlace("batches", 40, "Batches", "batches:batches", within))
    code_kinds.add(CodeKind("batch", 50, "Batch", "{year}-{number:04}", batch_url))
    search_sources.add(SearchSource("batches", 40, find))
    ingredient_stock.add(StockSource("lots", 10, grams_on_hand, grams_free))
    today_items.add(TodaySource("batches", 5, in_hand))
    for name, order, model in EXPORTED:
        export_tables.add(ExportTable(name, order, model))
    record_panels.add(RecordPanel("batches that took it", 20, "formulas.ingredient", taken_panel))
    record_panels.add(RecordPanel("trials", 10, "formulas.formulaversion", trial_panel))
    record_checks.add(RecordCheck("weighings", 25, weighings_agree))
    record_checks.add(RecordCheck("batch lines", 26, line_faults))
    record_checks.add(RecordCheck("batch signatures", 27, signature_faults))
    release_checks.add(ReleaseCheck("record", 10, own_points))
    release_checks.add(ReleaseCheck("fills", 15, fill_points))
    first_steps.add(
        FirstStep(
            "batch",
            50,
            "Plan the first batch",
            "batches:batches",
            lambda maker: Batch.objects.for_maker(maker).exists(),
        )
    )
    for kind in (
        JournalKind("batch.planned", "planned batch {subject}, {planned} g of {formula}, {purpose}"),
        JournalKind("batch.started", "started batch {subject}"),
        JournalKind("batch.given_up", "gave up the planned batch {subject}"),
        JournalKind("batch.rework_added", "took rework {lot}, {grams} g, into batch {subject}"),
        JournalKind("batch.substituted", "took {taken} instead of {instead} in batch {subject}"),
        JournalKind("weighed", "weighed {grams} g of {what}, lot {lot}, into {subject}"),
        JournalKind("weighing.taken_back", "took back {grams} g of lot {lot} from {subject}"),
        JournalKind("batch.deviated", "wrote a deviation in {subject}: {text}"),
        JournalKind("deviation.judged", "judged a deviation in {subject}, {verdict}: {text}"),
        JournalKind("batch.read", "read {value} {unit} ({kind}) in {subject}"),
        JournalKind("batch.filled", "filled {net} g of {product} in {subject}"),
        JournalKind("batch.checked", "looked in {subject}: {question}, {answer}"),
        JournalKind("batch.made", "finished batch {subject}: {bulk} g of {went_in} g"),
        JournalKind("batch.yielded", "wrote {grams} g of {subject}: {kind} {lot}"),
        JournalKind("batch.yield_corrected", "took back {grams} g of {subject} as {kind}"),
        JournalKind("batch.released", "released batch {subject}: {meaning}"),
        JournalKind("batch.rejected", "rejected batch {subject}: {meaning}"),
        JournalKind("batch.amended", "amended batch {subject}: {what}"),
        JournalKind("batch.noted", "remarked on batch {subject}: {text}"),
        JournalKind("trial.noted", "wrote down what trial {subject} showed on {on}"),
        JournalKind("trial.corrected", "put right what trial {subject} showed on {on}"),
    ):
        journal_kinds.add(kind)
