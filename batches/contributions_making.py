"""What batches contribute to the house."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.db.models import Q, Sum

from batches.actions.making_release import own_points
from batches.models import Batch, Lot, LotEntry, Weighing
from makers.http import address
from makers.models import Code, Maker
from makers.registries import (
    CodeKind,
    Fault,
    FirstStep,
    Found,
    JournalKind,
    NavigationPlace,
    RecordCheck,
    ReleaseCheck,
    SearchSource,
    StockSource,
    TodayItem,
    TodaySource,
    code_kinds,
    first_steps,
    ingredient_stock,
    journal_kinds,
    navigation,
    record_checks,
    release_checks,
    search_sources,
    today_items,
)

State = Batch.State


def batch_url(maker: Maker, code: Code) -> str:
    """A batch's page."""
    return address(maker, "batches:batch", code=code.text)


def find(maker: Maker, words: str, most: int) -> Sequence[Found]:
    """Batches by the name of what they make."""
    rows = Batch.objects.for_maker(maker).filter(formula__name__icontains=words).select_related("formula")
    return [
        Found(f"{row.formula}, batch {row.code}", address(maker, "batches:batch", code=row.code), "Batch", row.code)
        for row in rows.order_by("-pk")[:most]
    ]


def in_hand(maker: Maker, today: date) -> Sequence[TodayItem]:
    """Batches on the bench, made but not judged, planned, and on hold."""
    rows = (
        Batch.objects.for_maker(maker)
        .filter(Q(state__in=[State.MAKING, State.MADE, State.PLANNED]) | Q(held=True))
        .select_related("formula")
        .order_by("pk")
    )
    items = []
    for row in rows[:40]:
        url = address(maker, "batches:batch", code=row.code)
        figure, note = f"{row.planned_g.normalize():f}", "g planned"
        if row.held:
            items.append(
                TodayItem("hold", "Hold", f"{row.formula}, batch {row.code}, stands still until somebody judges it.",
                          url, figure, note, "See it", now=True, order=5)
            )  # fmt: skip
        elif row.state == State.MAKING:
            bench = address(maker, "batches:bench", code=row.code)
            items.append(
                TodayItem("making", "Making", f"{row.formula}, batch {row.code}, is on the bench.", url, figure, note,
                          "Go to the bench", bench, now=True, order=1)
            )  # fmt: skip
        elif row.state == State.MADE:
            items.append(
                TodayItem("made", "Made", f"{row.formula}, batch {row.code}, waits for release.", url,
                          f"{row.bulk_g.normalize():f}" if row.bulk_g else "", "g obtained", "Judge and release",
                          f"{url}#release", order=20)
            )  # fmt: skip
        else:
            word = row.planned_for.isoformat() if row.planned_for else "Planned"
            items.append(
                TodayItem("planned", word, f"{row.formula}, batch {row.code}, is planned.", url, figure, note,
                          "Open the plan", order=60)
            )  # fmt: skip
    return items


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
        .filter(Q(lot__from_batch__isnull=True) | ~Q(lot__from_batch=models_f("batch")))
        .values_list("lot_id", "batch_id")
        .annotate(sum=Sum("amount"))
        .order_by("lot_id", "batch_id")
    }
    faults = []
    for key in weighed.keys() | moved.keys():
        if weighed.get(key, 0) != moved.get(key, 0):
            faults.append(
                Fault(
                    f"lot {key[0]} in batch {key[1]}",
                    f"Weighings say {weighed.get(key, 0)} g, the ledger {moved.get(key, 0)} g.",
                )
            )
    return faults


def models_f(name: str) -> object:
    """A column of the row itself."""
    from django.db.models import F

    return F(name)


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


def register() -> None:
    """Add every contribution; called once on start."""
    navigation.add(
        NavigationPlace(
            "batches",
            40,
            "Batches",
            "batches:batches",
            (
                "batches:batch", "batches:plan", "batches:batch-act", "batches:bench", "batches:weighing-back",
                "batches:packs", "batches:pack", "batches:pack-add", "batches:places", "batches:place",
                "batches:recipients", "batches:recipient", "batches:dispatches", "batches:dispatch",
                "batches:dispatch-add", "batches:return",
            ),
        )
    )
    code_kinds.add(CodeKind("batch", 50, "Batch", "{year}-{number:04}", batch_url))
    search_sources.add(SearchSource("batches", 40, find))
    ingredient_stock.add(StockSource("lots", 10, grams_on_hand))
    today_items.add(TodaySource("batches", 5, in_hand))
    record_checks.add(RecordCheck("weighings", 25, weighings_agree))
    release_checks.add(ReleaseCheck("record", 10, own_points))
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
        JournalKind("batch.yielded", "wrote {grams} g of {subject} as {kind} {lot}"),
        JournalKind("batch.yield_corrected", "took back {grams} g of {subject} as {kind}"),
        JournalKind("batch.released", "released batch {subject}: {meaning}"),
        JournalKind("batch.rejected", "rejected batch {subject}: {meaning}"),
        JournalKind("batch.amended", "amended batch {subject}: {what}"),
        JournalKind("batch.noted", "remarked on batch {subject}: {text}"),
    ):
        journal_kinds.add(kind)
