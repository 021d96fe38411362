"""The trace, complaints and recalls on screen."""

from __future__ import annotations

import time
from datetime import datetime
from datetime import time as clock_time
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from batches.actions.tracing import (
    FACTS,
    add_complaint_step,
    end_recall,
    resolve_code,
    start_recall,
    write_complaint,
)
from batches.complaint_clocks import running_clocks
from batches.forms.tracing import ComplaintForm, FactsForm, RecallEndForm, RecallForm, StepForm
from batches.models import Batch, Complaint, Lot, Recall
from batches.rules.picture import Edge, Node, Picture, draw
from batches.rules.serious import judge
from batches.tracing import Trace, trace_back, trace_forward, trace_from_batches
from makers.actions import By, entries_about
from makers.http import MakerRequest, address
from makers.models import Code, Maker
from makers.rules.display import grams as shown_grams
from makers.views.forms import carried_out
from makers.views.house import journal_rows
from makers.views.lists import csv_response, wants_csv, words_of

MOST_HOLDERS_DRAWN = 24
NOON = clock_time(12)


def starts_of(maker: Maker, text: str) -> tuple[list[Lot], list[Batch], str]:
    """What a code, supplier's lot number or pack leads to: lots or batches, and a sentence for nothing."""
    if not text:
        return [], [], ""
    code = Code.objects.called(maker, text)
    if code is not None and code.kind in LOT_CODES:
        return list(known_lots(maker).filter(**{LOT_CODES[code.kind]: code.subject})), [], ""
    if code is not None and code.kind in BATCH_CODES:
        name, nothing = BATCH_CODES[code.kind]
        return [], list(Batch.objects.for_maker(maker).filter(**{name: code.subject}).distinct()), nothing
    found = list(known_lots(maker).filter(supplier_lot__iexact=text))
    sentence = (
        f"No lot, batch or pack is called “{text}”, and no supplier's lot number either. "
        "Read the code on the label again."
    )
    return found, [], "" if found else sentence


LOT_CODES = {"lot": "uuid", "delivery": "delivery__uuid"}
"""How the code of a kind finds lots."""

BATCH_CODES = {
    "batch": ("uuid", ""),
    "pack": ("packs__uuid", ""),
    "complaint": ("complaints__uuid", "That complaint names no batch."),
    "dispatch": ("packs__entries__dispatch__uuid", ""),
    "recipient": ("packs__entries__dispatch__recipient__uuid", "Nothing went there yet."),
}
"""How the code of a kind finds batches, and what is said where there are none."""


def known_lots(maker: Maker) -> Any:
    """The maker's lots with what a trace shows of them."""
    return Lot.objects.for_maker(maker).select_related("ingredient", "article", "rework_of", "from_batch")


@require_GET
def trace_page(request: MakerRequest) -> HttpResponse:
    """From any code: back to lots, or forward to every pack and person."""
    asked = words_of(request)
    way = request.GET.get("way", "")
    lots, batches, sentence = starts_of(request.maker, asked)
    context: dict[str, Any] = {
        "q": asked,
        "way": way,
        "sentence": sentence if not lots and not batches else "",
        "complaints": Complaint.objects.for_maker(request.maker).select_related("product", "batch")[:8],
        "recalls": Recall.objects.for_maker(request.maker)[:4],
    }
    if lots or batches:
        began = time.perf_counter()
        trace = run(request.maker, lots, batches, way)
        context |= {
            "trace": trace,
            "took": f"{time.perf_counter() - began:.2f}",
            "start": (lots or batches)[0],
            "starts": lots or batches,
            "start_title": ", ".join(one.code for one in (lots or batches)[:4]),
            "picture": picture_of(request.maker, trace, lots, batches, show_all=bool(request.GET.get("all"))),
            "from_lot": bool(lots),
            "behind": behind(trace) if not trace.forward else [],
            "also": also_touched(request.maker, trace) if not trace.forward else [],
        }
        if wants_csv(request):
            return trace_csv(trace)
    return render(request, "batches/tracing/trace.html", context)


def run(maker: Maker, lots: list[Lot], batches: list[Batch], way: str) -> Trace:
    """The trace that was asked for: lots go forward, batches back unless asked otherwise."""
    if lots and way == "back":
        made_in = [lot.from_batch for lot in lots if lot.from_batch is not None]
        return trace_back(maker, made_in) if made_in else trace_forward(maker, lots)
    if lots:
        return trace_forward(maker, lots)
    if way == "forward":
        return trace_from_batches(maker, batches)
    return trace_back(maker, batches)


def behind(trace: Trace) -> list[dict[str, Any]]:
    """The lots behind the starting batches: directly weighed in, or through an in-house or rework lot."""
    starts = {batch.pk for batch in trace.start_batches}
    rows: dict[int, dict[str, Any]] = {}
    for use in trace.uses:
        row = rows.setdefault(
            use.lot, {"lot": trace.lots[use.lot], "grams": None, "direct": False, "through": []}
        )
        if use.batch in starts:
            row["direct"] = True
            row["grams"] = (row["grams"] or 0) + use.grams
        else:
            row["through"].append(trace.batches[use.batch])
    return sorted(rows.values(), key=lambda row: (not row["direct"], row["lot"].pk))


def also_touched(maker: Maker, trace: Trace) -> list[Batch]:
    """Every other batch that shares one of these lots, at any depth."""
    bought = [lot for lot in trace.lots.values() if lot.from_batch_id is None]
    forward = trace_forward(maker, bought)
    return [batch for key, batch in forward.batches.items() if key not in trace.batches]


def lot_title(lot: Lot) -> str:
    """What a lot is of."""
    return str(lot.ingredient or lot.article or f"Rework, {lot.rework_of}")


def picture_of(
    maker: Maker, trace: Trace, lots: list[Lot], batches: list[Batch], *, show_all: bool
) -> Picture:
    """The trace drawn: lots, batches, packs, and who has them."""
    nodes = [
        Node(
            f"lot-{key}", "lot", lot_title(lot), lot.code, key in trace.on_path,
            address(maker, "batches:lot", code=lot.code), lot.held,
        )
        for key, lot in trace.lots.items()
    ]  # fmt: skip
    nodes += [
        Node(
            f"batch-{key}", "batch", str(batch.formula), batch.code, True,
            address(maker, "batches:batch", code=batch.code), batch.held,
        )
        for key, batch in trace.batches.items()
    ]  # fmt: skip
    edges = [
        Edge(
            f"lot-{use.lot}", f"batch-{use.batch}", f"{shown_grams(use.grams, 1)} g", use.lot in trace.on_path
        )
        for use in trace.uses
    ]
    edges += [
        Edge(f"batch-{lot.from_batch_id}", f"lot-{key}", "", True)
        for key, lot in trace.lots.items()
        if lot.from_batch_id in trace.batches
    ]
    for account in trace.accounts:
        pack = account.pack
        nodes.append(
            Node(
                f"pack-{pack.pk}", "pack", f"{account.made} of {pack.product}", pack.code, True,
                address(maker, "batches:pack", code=pack.code), bool(pack.on_hold),
            )
        )  # fmt: skip
        if pack.batch_id in trace.batches:
            edges.append(Edge(f"batch-{pack.batch_id}", f"pack-{pack.pk}", str(account.made)))
    nodes, edges = with_holders(trace, nodes, edges)
    return draw(nodes, edges, most_off_path=10_000 if show_all else 6)


def with_holders(trace: Trace, nodes: list[Node], edges: list[Edge]) -> tuple[list[Node], list[Edge]]:
    """Add who has the packs; many of them are drawn as one."""
    if len(trace.holders) > MOST_HOLDERS_DRAWN:
        for account in trace.accounts:
            if account.out:
                key = f"holder-all-{account.pack.pk}"
                count = sum(one.pack.pk == account.pack.pk for one in trace.holders)
                nodes.append(Node(key, "holder", f"{count} recipients", ""))
                edges.append(Edge(f"pack-{account.pack.pk}", key, str(account.out)))
    else:
        for one in trace.holders:
            key = f"holder-{one.code}-{one.is_shop}"
            if key not in {node.key for node in nodes}:
                nodes.append(Node(key, "holder", one.name, one.code))
            edges.append(Edge(f"pack-{one.pack.pk}", key, str(one.units)))
    for account in trace.accounts:
        here = account.in_house + account.to_judge + account.kept
        if here:
            key = f"house-{account.pack.pk}"
            nodes.append(Node(key, "holder", "In the house", ""))
            edges.append(Edge(f"pack-{account.pack.pk}", key, str(here)))
    return nodes, edges


def trace_csv(trace: Trace) -> HttpResponse:
    """Who has what, as CSV."""
    return csv_response(
        "trace",
        ["batch", "pack", "product", "holder", "name", "units", "dispatches", "last on", "reached by"],
        trace.holders,
        lambda one: [
            one.pack.batch.code, one.pack.code, one.pack.product.name, one.code, one.name, one.units,
            " ".join(one.dispatches), one.last_on, one.reached_by,
        ],
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
def complaint_add(request: MakerRequest) -> HttpResponse:
    """Write down a complaint."""
    start: dict[str, Any] = {
        "received_on": request.by.today(),
        "code_given": request.GET.get("code", "")[:60],
    }
    form = ComplaintForm(request.POST or None, initial=start, maker=request.maker)
    facts = FactsForm(request.POST or None, prefix="fact", maker=request.maker)

    def write(data: dict[str, Any]) -> Complaint:
        day = data["received_on"]
        moment = None if day == request.by.today() else datetime.combine(day, NOON, request.maker.zone)
        said = {name: value for name, value in data.items() if name != "received_on"}
        return write_complaint(request.by, received_at=moment, facts=facts.facts, **said)

    if facts.is_valid():
        gone = carried_out(
            request,
            form,
            write,
            then=lambda made: address(request.maker, "batches:complaint", code=made.code),
            said=lambda made: f"{made} is written down. {carried_by_none(request.by, made)}".rstrip(),
            names={"occurred_at": "received_on"},
        )
        if gone is not None:
            return gone
    context = {"form": form, "facts": facts}
    return render(request, "batches/tracing/complaint_form.html", context)


def carried_by_none(by: By, row: Complaint) -> str:
    """That no batch and no pack carries the code that was read, and what to do; "" where one does."""
    if not row.code_given or row.batch is not None or resolve_code(by, row.code_given) != (None, None):
        return ""
    return (
        f"No batch or pack here carries the code “{row.code_given}”. Ask for it again; once it is read "
        "rightly, write it down as a step below."
    )


@require_http_methods(["GET", "POST"])
def complaint(request: MakerRequest, code: str) -> HttpResponse:
    """One complaint: the words, the facts, the batch, the lots behind it, what was done."""
    row = get_object_or_404(
        Complaint.objects.for_maker(request.maker).select_related(
            "batch__formula", "pack__batch", "product", "contact", "user"
        ),
        code=code,
    )
    form = StepForm(request.POST or None, maker=request.maker)
    facts = FactsForm(request.POST or None, initial=row.facts, prefix="fact", maker=request.maker)
    if facts.is_valid():
        gone = carried_out(
            request,
            form,
            lambda data: add_complaint_step(request.by, complaint=row, facts=facts.facts, **data),
            then=address(request.maker, "batches:complaint", code=code),
            said="Written down.",
        )
        if gone is not None:
            return gone
    trace = trace_back(request.maker, [row.batch]) if row.batch else None
    named = dict(FACTS)
    context = {
        "complaint": row,
        "carried_by_none": carried_by_none(request.by, row),
        "form": form,
        "facts": facts,
        "known_facts": [(named[name], answer) for name, answer in row.facts.items() if answer != "not asked"],
        "not_asked": [named[name] for name, answer in row.facts.items() if answer == "not asked"],
        "steps": list(row.steps.select_related("user")),
        "behind": behind(trace) if trace else [],
        "also": also_touched(request.maker, trace) if trace else [],
        "judgement": judged(request.maker, row),
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "batches/tracing/complaint.html", context)


def judged(maker: Maker, row: Complaint) -> list[dict[str, Any]]:
    """What each market asks for after this reaction, with its day; the rules name the sources."""
    if row.kind != Complaint.Kind.REACTION:
        return []
    verdicts = {one.market: one.verdict for one in judge(row.facts)}
    today = timezone.localdate(timezone=maker.zone)
    return [
        {
            "market": clock.market,
            "verdict": verdicts.get(clock.market, ""),
            "duty": clock.duty,
            "text": clock.text,
            "due": clock.due,
            "left": clock.days_left(today),
            "assumes": clock.assumes,
            "source": clock.source,
        }
        for clock in running_clocks(maker, row)
    ]


@require_http_methods(["GET", "POST"])
def recall_start(request: MakerRequest) -> HttpResponse:
    """Start a recall or a rehearsal from a lot or a batch."""
    code = (request.POST.get("start") or request.GET.get("start") or "")[:20]
    lot = Lot.objects.for_maker(request.maker).filter(code=code).first()
    batch = None if lot else get_object_or_404(Batch.objects.for_maker(request.maker), code=code)
    form = RecallForm(request.POST or None, maker=request.maker)
    gone = carried_out(
        request,
        form,
        lambda data: start_recall(
            request.by, lot=lot, batch=batch, rehearsal=data["kind"] == "rehearsal", reason=data["reason"]
        ),
        then=lambda made: address(request.maker, "batches:recall", code=made.code),
    )
    context = {"form": form, "start": lot or batch}
    return gone or render(request, "batches/tracing/recall_form.html", context)


@require_http_methods(["GET", "POST"])
def recall(request: MakerRequest, code: str) -> HttpResponse:
    """One recall: what the trace gave when it began, whom to tell, and how it ended."""
    row = get_object_or_404(
        Recall.objects.for_maker(request.maker).select_related("lot", "batch", "user"), code=code
    )
    form = RecallEndForm(request.POST or None, maker=request.maker)
    gone = carried_out(
        request,
        form,
        lambda data: end_recall(request.by, recall=row, **data),
        then=address(request.maker, "batches:recall", code=code),
        said="The end is written down.",
    )
    if gone is not None:
        return gone
    context = {
        "recall": row,
        "form": form,
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "batches/tracing/recall.html", context)
