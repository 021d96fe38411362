"""The lists of complaints and of recalls."""

from __future__ import annotations

from datetime import datetime

from django.db.models import IntegerField, Q, Value
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Cast, Coalesce, Lower
from django.http import HttpResponse
from django.views.decorators.http import require_GET

from batches.forms.lists import ComplaintFilter, RecallFilter
from batches.models import Complaint, Recall
from makers.http import MakerRequest
from makers.views.lists import WRITTEN, Listing, Sort, read_filter, show_list

COMPLAINTS = Listing(
    template="batches/tracing/complaint_list.html",
    sorts={
        "newest": WRITTEN,
        "code": Sort("code", title="Code"),
        "received": Sort("received_at", datetime, "Received"),
        "about": Sort("kind", title="About"),
        "product": Sort("product_name", title="Product"),
        "batch": Sort("batch_code", title="Batch"),
        "state": Sort("state", title="State"),
    },
    default="-newest",
    name="complaints",
    heads=("code", "received", "kind", "product", "batch", "batch is", "market", "state", "words"),
    cells=lambda row: [
        row.code, row.received_at.isoformat(), row.kind, row.product, row.batch, row.batch_known, row.market,
        row.state, row.words,
    ],
)  # fmt: skip


@require_GET
def complaint_list(request: MakerRequest) -> HttpResponse:
    """Complaints, newest first."""
    asked = read_filter(request, ComplaintFilter, COMPLAINTS)
    rows = (
        Complaint.objects.for_maker(request.maker)
        .select_related("product", "batch")
        .annotate(
            product_name=Lower(Coalesce("product__name", Value(""))),
            batch_code=Coalesce("batch__code", Value("")),
        )
    )
    if words := asked.asked("q"):
        rows = rows.filter(
            Q(code__icontains=words)
            | Q(words__icontains=words)
            | Q(product__name__icontains=words)
            | Q(batch__code__icontains=words)
        )
    for name in ("kind", "state"):
        if chosen := asked.asked(name):
            rows = rows.filter(**{name: chosen})
    return show_list(request, rows, COMPLAINTS, asked)


RECALLS = Listing(
    template="batches/tracing/recall_list.html",
    sorts={
        "newest": WRITTEN,
        "code": Sort("code", title="Code"),
        "began": Sort("started_at", datetime, "Began"),
        "from": Sort("start", title="From"),
        "recover": Sort("to_recover", int, "To recover"),
        "found": Sort("found", int, "Found"),
    },
    default="-newest",
    name="recalls",
    heads=(
        "code", "kind", "from", "reason", "began", "ended", "minutes", "made", "in the house", "to recover", "found",
        "conclusion",
    ),
    cells=lambda row: [
        row.code, "rehearsal" if row.rehearsal else "recall", row.start, row.reason, row.started_at.isoformat(),
        row.ended_at.isoformat() if row.ended_at else "", row.minutes, row.scope.get("made"),
        row.scope.get("in_house"), row.to_recover, row.found_units, row.conclusion,
    ],
)  # fmt: skip


@require_GET
def recall_list(request: MakerRequest) -> HttpResponse:
    """Recalls and rehearsals, newest first."""
    asked = read_filter(request, RecallFilter, RECALLS)
    rows = Recall.objects.for_maker(request.maker).annotate(
        start=Coalesce("lot__code", "batch__code", Value("")),
        to_recover=Coalesce(Cast(KeyTextTransform("to_recover", "scope"), IntegerField()), Value(0)),
        found=Coalesce("found_units", Value(0)),
    )
    if words := asked.asked("q"):
        rows = rows.filter(Q(code__icontains=words) | Q(reason__icontains=words) | Q(start__icontains=words))
    if kind := asked.asked("kind"):
        rows = rows.filter(rehearsal=kind == "rehearsal")
    if state := asked.asked("state"):
        rows = rows.filter(ended_at__isnull=state == "running")
    return show_list(request, rows, RECALLS, asked)
