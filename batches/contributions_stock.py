"""What lots, deliveries and holds contribute to the registries of the house."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Case, F, Q, Sum, Value, When
from django.db.models.functions import Coalesce

from batches.actions.ledger import seal
from batches.models import Batch, Delivery, Hold, Lot, LotEntry, Pack
from batches.rules.lot_state import EXPIRY_STEPS, days_left
from batches.shelf_watch import free_to_use, nearing, on_hand_of, open_holds, running_short, waiting
from batches.views.leads import lead
from batches.views.shelf import material_of, rows_of
from formulas.models import Article
from makers.http import address
from makers.models import Code, JournalEntry, Maker
from makers.models.fields import GramsField
from makers.registries import (
    CodeKind,
    ExportTable,
    Fault,
    FirstStep,
    Found,
    JournalKind,
    PageLink,
    RecordCheck,
    RecordPanel,
    SearchSource,
    TodayItem,
    TodaySource,
    code_kinds,
    export_tables,
    first_steps,
    journal_kinds,
    page_links,
    record_checks,
    record_panels,
    search_sources,
    today_items,
)
from makers.rules.display import day_fact, grams, number, plural, units, with_unit
from makers.rules.reading import decimal_mark

EXPORTED = (
    ("deliveries", 300, "batches.Delivery"),
    ("lots", 340, "batches.Lot"),
    ("lot_decisions", 341, "batches.LotDecision"),
    ("retests", 342, "batches.Retest"),
    ("lot_entries", 360, "batches.LotEntry"),
    ("holds", 390, "batches.Hold"),
)
"""Lots come after the batches that made them, holds after everything that they can be on."""

EACH = 6
"""Most single lots of one kind that Today names; the rest are counted in one line."""

PANEL_LOTS = 20

JOURNAL = (
    JournalKind("delivery.received", "received {subject} from {supplier}: {count}"),
    JournalKind("lot.counted_in", "counted in {subject}, {amount} of {what}"),
    JournalKind("lot.released", "released {subject}: {basis}"),
    JournalKind("lot.rejected", "rejected {subject}: {basis}"),
    JournalKind("lot.quarantined", "put {subject} back into quarantine: {basis}"),
    JournalKind("lot.counted", "counted {subject}: {found}, {difference}"),
    JournalKind("lot.wasted", "wasted {amount} of {subject}"),
    JournalKind("lot.sampled", "sampled {amount} of {subject}"),
    JournalKind("lot.returned", "sent back {amount} of {subject}"),
    JournalKind("lot.corrected", "corrected {amount} of {subject}: {instead}"),
    JournalKind("lot.retested", "moved the date of {subject} from {was} to {became}"),
    JournalKind("lot.opened", "opened {subject}"),
    JournalKind("hold.opened", "put {subject} on hold"),
    JournalKind("hold.closed", "ended the hold on {subject}"),
    JournalKind("document.shared", "filed {subject} with {lot} too"),
)


def lot_url(maker: Maker, code: Code) -> str:
    """Where a lot's code leads."""
    return address(maker, "batches:lot", code=code.text)


def delivery_url(maker: Maker, code: Code) -> str:
    """Where a delivery's code leads."""
    return address(maker, "batches:delivery", code=code.text)


def amount_text(maker: Maker, amount: Decimal, unit: str) -> str:
    """An amount as Today says it, never overstated."""
    mark = decimal_mark(maker.locale)
    if unit == Lot.Unit.PIECES:
        return with_unit(number(amount, 0, mark=mark), plural(amount, "piece"))
    return with_unit(grams(amount, 1, mark=mark, rounding="down"), "g")


def left_of(maker: Maker, lot: Lot) -> str:
    """What is left of a lot."""
    return amount_text(maker, lot.on_hand, lot.unit)


def rest(maker: Maker, count: int, word: str, mark: str, state: str, order: int) -> list[TodayItem]:
    """One line for the lots that are not named singly."""
    if count <= 0:
        return []
    url = f"{address(maker, 'batches:lots')}?state={state}"
    return [
        TodayItem(
            mark, word, f"{units(count, 'more lot')} of the same kind.", url, act="See them", order=order
        )
    ]


def today_waiting(maker: Maker, day: date) -> Sequence[TodayItem]:
    """Lots in quarantine."""
    lots = list(waiting(maker))
    items = []
    for lot in lots[:EACH]:
        url = lead(maker, "lot", lot.code)
        days = (day - lot.received_on).days
        waits = "came today and waits" if days <= 0 else f"has waited {units(days, 'day')}"
        items.append(
            TodayItem(
                "quarantine",
                "Quarantine",
                f"{material_of(lot)[0]}, lot {lot.code}, {waits} for a decision.",
                url,
                figure=left_of(maker, lot),
                act="Decide",
                act_url=f"{url}#h-decide",
                order=30,
            )
        )
    return items + rest(maker, len(lots) - EACH, "Quarantine", "quarantine", "quarantine", 31)


def today_dates(maker: Maker, day: date) -> Sequence[TodayItem]:
    """Lots past their date, and those that reach it within the steps."""
    lots = list(nearing(maker, day))
    past = [lot for lot in lots if lot.good_until is not None and lot.good_until < day]
    soon = [lot for lot in lots if lot.good_until is not None and lot.good_until >= day]
    return [
        *(dated(maker, lot, day) for lot in past[:EACH]),
        *rest(maker, len(past) - EACH, "Expired", "expired", "expired", 21),
        *(dated(maker, lot, day) for lot in soon[:EACH]),
        *rest(maker, len(soon) - EACH, "Expires soon", "expiring", "expiring", 42),
    ]


def dated(maker: Maker, lot: Lot, day: date) -> TodayItem:
    """One lot whose date is near or past: past and within the first step come first."""
    left = days_left(lot.good_until, day) or 0
    name, until = material_of(lot)[0], day_fact(lot.good_until or day)
    retest = lot.date_kind == Lot.DateKind.RETEST
    url = lead(maker, "lot", lot.code)
    if left < 0:
        text = (
            f"{name}, lot {lot.code}, {'was to be tested again by' if retest else 'was good until'} {until}."
        )
        mark, word, act = (
            ("retest", "Retest due", "Test it") if retest else ("expired", "Expired", "Look at it")
        )
        order = 20
    else:
        text = f"{name}, lot {lot.code}, {'is to be tested again by' if retest else 'is good until'} {until}."
        mark, act = "expiring", "Use it first"
        word = "Last day" if left == 0 else units(left, "day")
        order = 40 if left <= EXPIRY_STEPS[0] else 41
    return TodayItem(
        mark,
        word,
        text,
        url,
        figure=left_of(maker, lot),
        act=act if left < 0 else "",
        act_url=f"{url}#h-date" if retest and left < 0 else url,
        order=order,
    )


def today_holds(maker: Maker, day: date) -> Sequence[TodayItem]:
    """Open holds on lots, batches and packs."""
    items = []
    for hold in open_holds(maker):
        text, figure = held_text(maker, hold)
        url = address(maker, "batches:hold", uuid=hold.uuid)
        items.append(
            TodayItem("hold", "Hold", text, url, figure=figure, act="See the hold", now=True, order=10)
        )
    return items


def held_text(maker: Maker, hold: Hold) -> tuple[str, str]:
    """What an open hold says on Today, and the amount that it holds back."""
    cause = hold.cause.rstrip(".").splitlines()[0][:200]
    if hold.lot is not None:
        return f"{material_of(hold.lot)[0]}, lot {hold.lot.code}: {cause}.", left_of(maker, hold.lot)
    if hold.batch is not None:
        return f"{hold.batch.formula}, batch {hold.batch.code}: {cause}.", ""
    if hold.pack is not None:
        return f"{hold.pack.product}, packs {hold.pack.code}: {cause}.", ""
    raise ValueError(f"hold {hold.uuid} is on nothing")


def today_short(maker: Maker, day: date) -> Sequence[TodayItem]:
    """Materials that run short."""
    items = []
    for short in running_short(maker, day):
        low = amount_text(maker, short.low, short.unit)
        items.append(
            TodayItem(
                "short",
                "Short",
                f"{short.name}: {amount_text(maker, short.have, short.unit)} free to use, low at {low}.",
                lead(maker, short.kind, short.code),
                figure=amount_text(maker, short.low - short.have, short.unit),
                figure_note="short",
                order=35,
            )
        )
    return items


def find_lots(maker: Maker, words: str, most: int) -> Sequence[Found]:
    """Lots by the supplier's lot number, and deliveries by the supplier's reference."""
    lots = Lot.objects.for_maker(maker).filter(supplier_lot__icontains=words).with_subject()
    found = [
        Found(
            f"{material_of(lot)[0]}, lot {lot.code}",
            lead(maker, "lot", lot.code),
            "Lot",
            lot.code,
            f"supplier's lot {lot.supplier_lot}",
        )
        for lot in lots.order_by("-id")[:most]
    ]
    deliveries = (
        Delivery.objects.for_maker(maker).filter(reference__icontains=words).select_related("supplier")
    )
    found += [
        Found(
            f"{row.supplier}, delivery {row.code}",
            lead(maker, "delivery", row.code),
            "Delivery",
            row.code,
            f"their reference {row.reference}",
        )
        for row in deliveries.order_by("-id")[:most]
    ]
    return found


def lots_panel(maker: Maker, thing: Any) -> tuple[str, dict[str, Any]] | None:
    """The lots of an ingredient or article, first to expire first, the used up last."""
    is_article = isinstance(thing, Article)
    today = maker_today(maker)
    mine = Lot.objects.for_maker(maker).with_subject()
    mine = mine.of_article(thing) if is_article else mine.of_ingredient(thing)
    lots = list(
        mine.alias(used_up=Case(When(on_hand=0, then=1), default=0)).order_by(
            "used_up", F("good_until").asc(nulls_last=True), "received_on", "id"
        )[: PANEL_LOTS + 1]
    )
    grams_free, pieces_free = free_to_use(maker, today)
    free = (pieces_free if is_article else grams_free).get(thing.pk, Decimal(0))
    level = thing.low_stock if is_article else thing.low_stock_g
    low = None if level is None else Decimal(level)
    kind = {"article": thing} if is_article else {"ingredient": thing}
    asked = f"?ingredient={thing.code}" if not is_article else ""
    return "batches/stock/_lots_panel.html", {
        "rows": rows_of(maker, lots[:PANEL_LOTS], today),
        "total": on_hand_of(maker, **kind),
        "free": free,
        "unit": "pieces" if is_article else "g",
        "low": low,
        "is_low": low is not None and free < low,
        "receive_url": address(maker, "batches:receive") + asked,
        "count_url": address(maker, "batches:count-in") + asked,
        "all_url": f"{address(maker, 'batches:lots')}?state=all&ingredient={thing.code}"
        if len(lots) > PANEL_LOTS and not is_article
        else "",
    }


def maker_today(maker: Maker) -> date:
    """The maker's local date."""
    from django.utils import timezone

    return timezone.now().astimezone(maker.zone).date()


def ledger_faults(maker: Maker) -> Sequence[Fault]:
    """Lots whose balance is not the sum of their ledger, or that hold less than nothing."""
    lots = (
        Lot.objects.for_maker(maker)
        .annotate(entered=Sum("entries__amount"))
        .filter(~Q(on_hand=Coalesce("entered", Value(Decimal(0), output_field=GramsField()))))
        .order_by("id")
    )
    faults = [
        Fault(f"lot {lot.code}", f"It stands at {lot.on_hand}, its ledger adds up to {lot.entered or 0}.")
        for lot in lots
    ]
    negative = Lot.objects.for_maker(maker).filter(on_hand__lt=0).order_by("id")
    return faults + [Fault(f"lot {lot.code}", f"It holds {lot.on_hand}.") for lot in negative]


def seal_faults(maker: Maker) -> Sequence[Fault]:
    """Ledger lines that say something else than when the journal sealed them, or are gone."""
    seals: dict[str, tuple[int, str]] = {}
    entries = JournalEntry.objects.filter(maker=maker, change__has_key="ledger").order_by("number")
    for entry in entries.iterator(chunk_size=500):
        seals |= {key: (entry.number, digest) for key, digest in entry.change["ledger"].items()}
    faults = []
    lines = LotEntry.objects.for_maker(maker).select_related("lot").order_by("id")
    for line in lines.iterator(chunk_size=500):
        known = seals.pop(str(line.uuid), None)
        where = f"ledger line {line.pk} of lot {line.lot.code}"
        if known is None:
            faults.append(Fault(where, "No journal entry sealed it."))
        elif known[1] != seal(line):
            faults.append(Fault(where, f"It says something else than journal entry {known[0]} sealed."))
    faults += [
        Fault(f"journal entry {seals[key][0]}", f"The ledger line {key} that it sealed is gone.")
        for key in sorted(seals, key=lambda key: seals[key][0])
    ]
    return faults


def hold_faults(maker: Maker) -> Sequence[Fault]:
    """Lots, batches and packs whose mark "held" does not follow their open holds."""
    faults = []
    opened = Hold.objects.for_maker(maker).open()
    for kind, model in (("lot", Lot), ("batch", Batch), ("pack", Pack)):
        held = set(opened.filter(**{f"{kind}__isnull": False}).values_list(f"{kind}_id", flat=True))
        things: Any = model._default_manager.filter(maker=maker)
        for thing in things.filter(Q(held=True) | Q(pk__in=held)).order_by("id"):
            if thing.held and thing.pk not in held:
                faults.append(Fault(f"{kind} {thing.code}", "It says it is on hold, and no hold is open."))
            elif not thing.held:
                faults.append(Fault(f"{kind} {thing.code}", "It has an open hold and does not say so."))
    return faults


def register() -> None:
    """Add the entries of this subject; called once on start."""
    for kind in JOURNAL:
        journal_kinds.add(kind)
    code_kinds.add(CodeKind("lot", 30, "Lot", "{year}-L{number:03}", lot_url))
    code_kinds.add(CodeKind("delivery", 31, "Delivery", "R{year}-{number:03}", delivery_url))
    today_items.add(TodaySource("holds", 10, today_holds))
    today_items.add(TodaySource("lots in quarantine", 30, today_waiting))
    today_items.add(TodaySource("lot dates", 40, today_dates))
    today_items.add(TodaySource("low stock", 50, today_short))
    search_sources.add(SearchSource("lots", 30, find_lots))
    page_links.add(PageLink("lots", 10, "formulas:ingredients", "Lots on the shelf", "batches:lots"))
    for model in ("formulas.ingredient", "formulas.article"):
        record_panels.add(RecordPanel(f"lots of {model}", 10, model, lots_panel))
    for name, order, model in EXPORTED:
        export_tables.add(ExportTable(name, order, model))
    record_checks.add(RecordCheck("lot balances", 30, ledger_faults))
    record_checks.add(RecordCheck("ledger seals", 31, seal_faults))
    record_checks.add(RecordCheck("holds", 32, hold_faults))
    first_steps.add(
        FirstStep(
            "lots",
            30,
            "Write down what is on the shelf",
            "batches:lots",
            lambda maker: Lot.objects.for_maker(maker).exists(),
        )
    )
