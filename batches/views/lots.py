"""The page of a lot, and everything that is written on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from functools import wraps
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q, Sum
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from batches.actions.lots import CORRECTED_HERE, last_decided
from batches.actions.once import first_of
from batches.actions.stock import (
    correct_entry,
    count_lot,
    decide_lot,
    file_paper,
    open_hold,
    open_lot,
    retest_lot,
    waste_lot,
)
from batches.forms.stock import (
    CorrectForm,
    DecideForm,
    HoldForm,
    MovementForm,
    PaperForm,
    RetestForm,
)
from batches.models import Lot, LotDecision, LotEntry, Retest, Weighing
from batches.rules.lot_account import Account, Move, account
from batches.rules.lot_state import reasons_against, shown_state
from batches.views.holds import holds_on
from batches.views.leads import lead
from batches.views.shelf import material_of
from makers.actions import entries_about
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on
from makers.models import Document, MakerRecord
from makers.registries import panels_for
from makers.rules.display import clock, figure
from makers.views.house import journal_rows
from makers.views.lists import csv_response

JOURNAL_ROWS = 12
PICTURE, GAP, LETTER = Decimal(664), Decimal(2), Decimal(7)
"""Width of the account's picture, the gap between bars, and the room that a letter of a label takes."""

View = Callable[[MakerRequest, str], HttpResponse]


@dataclass(frozen=True, slots=True)
class Line:
    """A ledger line with the balance after it."""

    entry: LotEntry
    balance: Decimal
    into: Decimal | None
    out: Decimal | None
    batch_url: str
    correctable: bool
    taken_back: bool


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar of the account's picture, in its units."""

    label: str
    kind: str
    x: Decimal
    width: Decimal
    text_x: Decimal
    text_y: int


def the_lot(request: MakerRequest, code: str) -> Lot:
    """The lot of this maker, with what its page shows."""
    lots = Lot.objects.for_maker(request.maker).with_subject().select_related("composition__source")
    found: Lot = get_object_or_404(lots, code=code)
    return found


def ledger_of(request: MakerRequest, lot: Lot) -> list[Line]:
    """Every line of the ledger, oldest first."""
    entries = list(
        LotEntry.objects.for_maker(request.maker).of_lot(lot).select_related("user", "batch", "reverses")
    )
    back = {entry.reverses_id for entry in entries if entry.reverses_id}
    lines, balance = [], Decimal(0)
    for entry in entries:
        balance += entry.amount
        lines.append(
            Line(
                entry=entry,
                balance=balance,
                into=entry.amount if entry.amount > 0 else None,
                out=-entry.amount if entry.amount < 0 else None,
                batch_url=lead(request.maker, "batch", entry.batch.code) if entry.batch else "",
                correctable=entry.kind in CORRECTED_HERE and entry.pk not in back,
                taken_back=entry.pk in back,
            )
        )
    return lines


def account_of(lines: list[Line]) -> Account:
    """The account of a ledger. What a batch takes back names no line: by its sign it was a use or a yield."""

    def kind_of(entry: LotEntry) -> str:
        if entry.reverses is not None:
            return entry.reverses.kind
        if entry.kind == LotEntry.Kind.REVERSED:
            return LotEntry.Kind.WEIGHED if entry.amount > 0 else LotEntry.Kind.MADE
        return entry.kind

    return account(Move(kind_of(line.entry), line.entry.amount) for line in lines)


def uses_of(request: MakerRequest, lot: Lot) -> list[dict[str, Any]]:
    """The batches that this lot went into, with what is in them of it."""
    used = (
        Weighing.objects.for_maker(request.maker)
        .filter(lot=lot)
        .values("batch__code", "batch__formula__name", "batch__state", "batch__held", "batch__purpose")
        .annotate(grams=Sum("grams"))
        .order_by("batch__code")
    )
    return [
        {
            "code": row["batch__code"],
            "url": lead(request.maker, "batch", row["batch__code"]),
            "formula": row["batch__formula__name"],
            "state": "hold" if row["batch__held"] else row["batch__state"],
            "grams": row["grams"],
        }
        for row in used
        if row["grams"]
    ]


def papers_of(request: MakerRequest, lot: Lot) -> list[Document]:
    """The papers that were filed with the lot or with its delivery."""
    about = [lot.uuid] + ([lot.delivery.uuid] if lot.delivery else [])
    return list(Document.objects.for_maker(request.maker).filter(about__in=about).order_by("pk"))


def bars_of(sums: Account) -> list[Bar]:
    """The account as bars of a picture ``PICTURE`` wide; each label stands where it touches no other."""
    parts = [
        ("used", sums.used, "dot"),
        ("sampled", sums.sampled, "dot-ink"),
        ("wasted", sums.wasted, "dot-ink"),
        ("sent back", sums.sent_back, "dot-ink"),
        ("here", sums.here, "bar-all"),
    ]
    parts = [part for part in parts if part[1] > 0]
    whole = sum((amount for _, amount, _ in parts), start=Decimal(0))
    room = PICTURE - GAP * len(parts)
    bars: list[Bar] = []
    ends: list[Decimal] = []
    at = Decimal(0)
    for name, amount, kind in parts:
        width = max(GAP, (amount * room / whole).quantize(Decimal("0.1")))
        label = f"{name} {figure(amount, most=1)}"
        text_x = max(Decimal(0), min(at, PICTURE - LETTER * len(label)))
        row = next((row for row, end in enumerate(ends) if text_x >= end), len(ends))
        ends[row : row + 1] = [text_x + LETTER * (len(label) + 1)]
        bars.append(Bar(label, kind, at, width, text_x, 34 + 16 * row))
        at += width + GAP
    return bars


def page_of(request: MakerRequest, lot: Lot, **bound: Any) -> HttpResponse:
    """The page of a lot; ``bound`` forms come back with their sentences."""
    maker, today = request.maker, request.by.today()
    holds = holds_on(maker, Q(lot=lot))
    open_holds = [hold for hold in holds if hold.closed_at is None]
    lines = ledger_of(request, lot)
    sums = account_of(lines)
    papers = papers_of(request, lot)
    facts = lot.facts(hold.cause for hold in open_holds)
    name, kind, code = material_of(lot)
    rows = LotDecision.objects.for_maker(maker).filter(lot=lot).select_related("user", "document")
    decisions = list(rows.order_by("pk"))
    last = {"after": decisions[-1].uuid if decisions else ""}
    forms = {
        "movement": MovementForm(maker=maker, lot=lot, auto_id="move-%s"),
        "decide": DecideForm(maker=maker, lot=lot, papers=papers, initial=last, auto_id="decide-%s"),
        "retest": RetestForm(maker=maker, auto_id="retest-%s"),
        "hold": HoldForm(maker=maker, auto_id="hold-%s"),
        "paper": PaperForm(maker=maker, auto_id="paper-%s"),
        **bound,
    }
    context = {
        "lot": lot,
        "material": name,
        "material_url": lead(maker, kind, code),
        "batch_url": lead(maker, "batch", lot.from_batch.code) if lot.from_batch else "",
        "state": shown_state(facts, today),
        "reasons": reasons_against(facts, today),
        "is_pieces": lot.unit == Lot.Unit.PIECES,
        "lines": lines,
        "sums": sums,
        "bars": (bars := bars_of(sums)),
        "bars_height": max((bar.text_y for bar in bars), default=0) + 8,
        "into_total": sum((line.into for line in lines if line.into), start=Decimal(0)),
        "out_total": sum((line.out for line in lines if line.out), start=Decimal(0)),
        "decisions": decisions,
        "retests": list(Retest.objects.for_maker(maker).filter(lot=lot).select_related("user", "document")),
        "holds": holds,
        "open_holds": open_holds,
        "uses": uses_of(request, lot) if not lot.article_id else [],
        "papers": [
            {
                "title": f"{paper.get_kind_display()}: {paper.name}",
                "url": address(maker, "house:document", uuid=paper.uuid),
                "on": timezone.localtime(paper.at),
                "size": paper.size,
            }
            for paper in papers
        ],
        "trace_url": trace_url(request, lot),
        "panels": panels_for(maker, lot),
        "journal": journal_rows(maker, entries_about(maker, lot.uuid)[:JOURNAL_ROWS]),
        "forms": forms,
    }
    return render(request, "batches/stock/lot.html", context)


def trace_url(request: MakerRequest, lot: Lot) -> str:
    """Where the trace of a lot is shown."""
    return f"{address(request.maker, 'batches:trace')}?{urlencode({'q': lot.code})}"


@require_GET
def lot(request: MakerRequest, code: str) -> HttpResponse:
    """One lot: what is on hand, its ledger, what was decided, where it went."""
    return page_of(request, the_lot(request, code))


def written(request: MakerRequest, found: Lot, text: str) -> HttpResponse:
    """Back to the lot's page, saying what was written and when."""
    at = clock(request.by.now().astimezone(request.maker.zone))
    messages.success(request, f"Written down, {at}: {text}")
    return moved_on(address(request.maker, "batches:lot", code=found.code), request)


def writes(view: View) -> View:
    """A view that writes on a lot's page: opened by a link or a reload, it leads to that page."""

    @require_http_methods(["GET", "POST"])
    @wraps(view)
    def guarded(request: MakerRequest, code: str) -> HttpResponse:
        if request.method == "POST":
            return view(request, code)
        found = get_object_or_404(Lot.objects.for_maker(request.maker), code=code)
        return redirect(address(request.maker, "batches:lot", code=found.code))

    return guarded


def acted(
    request: MakerRequest,
    found: Lot,
    name: str,
    form: Any,
    act: Callable[[dict[str, Any]], str],
    names: dict[str, str] | None = None,
) -> HttpResponse:
    """One act on a lot: write it, or come back with what was typed and the sentences beside it."""
    if form.is_valid():
        try:
            with transaction.atomic():
                text = act(form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal, names)
        else:
            return written(request, found, text)
    return page_of(request, the_lot(request, found.code), **{name: form})


@writes
def movement(request: MakerRequest, code: str) -> HttpResponse:
    """A count, or something that left the lot."""
    found = the_lot(request, code)
    form = MovementForm(request.POST, maker=request.maker, lot=found, auto_id="move-%s")

    def act(data: dict[str, Any]) -> str:
        amount, why, key = data["amount"], data.get("why", ""), data.get("entry_key")
        if data["kind"] == LotEntry.Kind.COUNTED:
            count_lot(
                request.by,
                lot=found,
                found=amount.amount,
                unit=amount.unit,
                why=why,
                expected=data.get("expected"),
                entry_key=key,
            )
            return f"the count of {found.code}."
        waste_lot(
            request.by,
            lot=found,
            amount=amount.amount,
            unit=amount.unit,
            why=why,
            kind=data["kind"],
            entry_key=key,
        )
        return f"{LotEntry.Kind(data['kind']).label.lower()} from {found.code}."

    return acted(request, found, "movement", form, act, {"found": "amount", "unit": "amount"})


def came_before(request: MakerRequest, model: type[MakerRecord]) -> bool:
    """Whether this very form was written down already: a second tap, or a page that was sent again.

    Asked before the form is checked, where what it wrote would make the form itself refuse.
    """
    try:
        key = UUID(request.POST.get("entry_key", ""))
    except ValueError:
        return False
    return first_of(model, request.by, key) is not None


@writes
def decide(request: MakerRequest, code: str) -> HttpResponse:
    """Release, reject or put back into quarantine."""
    found = the_lot(request, code)
    if came_before(request, LotDecision):
        return written(request, found, f"{found.code} is {found.get_status_display().lower()}.")
    papers = papers_of(request, found)
    form = DecideForm(
        request.POST, request.FILES, maker=request.maker, lot=found, papers=papers, auto_id="decide-%s"
    )

    def act(data: dict[str, Any]) -> str:
        form.shows(last_decided(found))
        document = form.document
        if data.get("upload"):
            document = file_paper(request.by, lot=found, document=data["upload"])
        decide_lot(
            request.by,
            lot=found,
            became=data["became"],
            basis=data["basis"],
            document=document,
            certificate_lot=data.get("certificate_lot", ""),
            although_other_lot=bool(data.get("although_other_lot")),
            after=request.POST.get("after"),
            entry_key=data.get("entry_key"),
        )
        return f"{found.code} is {found.get_status_display().lower()}."

    return acted(request, found, "decide", form, act)


@writes
def retest(request: MakerRequest, code: str) -> HttpResponse:
    """Move the date on the strength of a test."""
    found = the_lot(request, code)
    form = RetestForm(request.POST, maker=request.maker, auto_id="retest-%s")

    def act(data: dict[str, Any]) -> str:
        retest_lot(
            request.by, lot=found, became=data["became"], basis=data["basis"], entry_key=data.get("entry_key")
        )
        return f"the test of {found.code}."

    return acted(request, found, "retest", form, act)


@writes
def hold(request: MakerRequest, code: str) -> HttpResponse:
    """Put the lot on hold."""
    found = the_lot(request, code)
    form = HoldForm(request.POST, maker=request.maker, auto_id="hold-%s")

    def act(data: dict[str, Any]) -> str:
        open_hold(request.by, lot=found, cause=data["cause"])
        return f"{found.code} is on hold. Nothing of it is weighed until the hold ends."

    return acted(request, found, "hold", form, act)


@writes
def paper(request: MakerRequest, code: str) -> HttpResponse:
    """Keep a paper with the lot."""
    found = the_lot(request, code)
    form = PaperForm(request.POST, request.FILES, maker=request.maker, auto_id="paper-%s")

    def act(data: dict[str, Any]) -> str:
        kept = file_paper(request.by, lot=found, document=data["upload"], kind=data["kind"])
        return f"{kept.name} is kept with {found.code}."

    return acted(request, found, "paper", form, act)


@writes
def opened(request: MakerRequest, code: str) -> HttpResponse:
    """The container was opened today."""
    found = the_lot(request, code)
    try:
        open_lot(request.by, lot=found)
    except ValidationError as refusal:
        messages.warning(request, " ".join(refusal.messages))
        return moved_on(address(request.maker, "batches:lot", code=code), request)
    return written(request, found, f"{found.code} was opened today.")


@require_http_methods(["GET", "POST"])
def correct(request: MakerRequest, code: str, uuid: UUID) -> HttpResponse:
    """Take a wrong ledger line back, on a page of its own that says what will stand in the ledger."""
    found = the_lot(request, code)
    entry = get_object_or_404(
        LotEntry.objects.for_maker(request.maker).filter(lot=found).select_related("lot", "user"), uuid=uuid
    )
    if entry.kind not in CORRECTED_HERE:
        raise Http404
    form = CorrectForm(request.POST or None, maker=request.maker, entry=entry)
    if request.method == "POST" and form.is_valid():
        amount = form.cleaned_data.get("amount")
        try:
            correct_entry(
                request.by,
                entry=entry,
                why=form.cleaned_data["why"],
                amount=amount.amount if amount else None,
                unit=amount.unit if amount else "",
            )
        except ValidationError as refusal:
            show_refusal(form, refusal, {"unit": "amount"})
        else:
            return written(request, found, f"the ledger of {found.code} is corrected. Both lines stay.")
    context = {"form": form, "lot": found, "entry": entry, "is_pieces": found.unit == Lot.Unit.PIECES}
    return render(request, "batches/stock/correct.html", context)


@require_GET
def ledger(request: MakerRequest, code: str) -> HttpResponse:
    """The ledger of a lot as CSV."""
    found = the_lot(request, code)
    return csv_response(
        f"lot-{found.code}",
        ["happened", "written", "what", "amount", "unit", "balance", "counted", "batch", "why", "by"],
        ledger_of(request, found),
        lambda line: [
            line.entry.occurred_at.astimezone(request.maker.zone).isoformat(timespec="minutes"),
            line.entry.entered_at.astimezone(request.maker.zone).isoformat(timespec="minutes"),
            line.entry.get_kind_display(), line.entry.amount, found.unit, line.balance,
            "" if line.entry.counted is None else line.entry.counted,
            line.entry.batch.code if line.entry.batch else "", line.entry.why, line.entry.user,
        ],
    )  # fmt: skip
