"""Proofs, sheets and print runs."""

from __future__ import annotations

from decimal import Decimal
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models.functions import Lower
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches.models import Batch
from labels.actions.labels import proof_page
from labels.actions.printing import add_sheet_layout, change_sheet_layout, print_run
from labels.assembly import assemble_one, current_issues, durability_of
from labels.forms.labels import RunForm, SheetChangeForm, SheetFilter, SheetForm, SheetLayoutForm
from labels.layout import Block, by_hand, for_batch, from_plain, lay_out
from labels.models import Label, SheetLayout
from labels.pdf import proof_pdf, sheet_pdf
from labels.proof import blocks_for, proof_of
from labels.views.fetch import fetch_label, url_of
from labels.views.labels import show_label
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on
from makers.views.forms import CHANGED, carried_out, on_the_list
from makers.views.lists import Listing, Sort, read_filter, show_list


def pdf_response(content: bytes, name: str) -> HttpResponse:
    """A PDF, always as a download."""
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    return response


@require_GET
def proof(request: MakerRequest, code: str, key: str) -> HttpResponse:
    """The label as it is today, as a proof in real size."""
    row = fetch_label(request, code, key)
    paper = assemble_one(row)
    if paper is None:
        raise Http404
    found = proof_of(paper)
    if found.layout.unknown_signs:
        messages.error(request, found.layout.refusal())
        return moved_on(url_of(row), request)
    return pdf_response(proof_pdf(found.layout, proof_page(found)), f"{code}-{key}-proof.pdf")


def blocks_to_print(row: Label) -> tuple[tuple[Block, ...], bool]:
    """(texts, whether they are a proof): those of the approved issue where the label is approved."""
    issue = current_issues(row.maker, [row.pk]).get(row.pk)
    if issue is not None and row.state == Label.State.APPROVED:
        return from_plain(issue.snapshot["blocks"]), False
    paper = assemble_one(row)
    if paper is None:
        raise Http404
    return blocks_for(paper), True


@require_GET
def sheet(request: MakerRequest, code: str, key: str) -> HttpResponse:
    """A printable sheet; what keeps it from being made comes back beside the form."""
    row = fetch_label(request, code, key)
    form = SheetForm(request.GET, maker=request.maker, label=row)
    if not form.is_valid():
        return show_label(request, row, sheet=form)
    on: SheetLayout = form.cleaned_data["layout"]
    batch: Batch | None = form.cleaned_data["batch"]
    blocks, is_proof = blocks_to_print(row)
    if batch is not None:
        blocks = for_batch(blocks, batch.code, durability_of(row, batch).text)
    size = Decimal(on.label_width_mm), Decimal(on.label_height_mm)
    layout = lay_out(blocks if batch else by_hand(blocks), *size)
    if batch is None and not layout.fits:
        layout = lay_out(blocks, *size)
    title = f"{row.product.name}, {row.market}" + (f", batch {batch.code}" if batch else "")
    try:
        content = sheet_pdf(
            layout,
            on,
            title=title,
            start=form.cleaned_data["start"],
            copies=form.cleaned_data["copies"],
            is_proof=is_proof,
        )
    except ValueError as refusal:
        form.add_error("layout", str(refusal))
        return show_label(request, row, sheet=form)
    return pdf_response(content, f"{code}-{key}{f'-{batch.code}' if batch else ''}-sheet.pdf")


@require_POST
def run_add(request: MakerRequest, code: str, key: str) -> HttpResponse:
    """Write down a print run of the newest issue."""
    row = fetch_label(request, code, key)
    issue = current_issues(request.maker, [row.pk]).get(row.pk)
    form = RunForm(request.POST, maker=request.maker, label=row)
    if form.is_valid():
        data = form.cleaned_data
        if issue is None:
            form.add_error(None, "Approve the label first: a print run is of an approved issue.")
            return show_label(request, row, run=form)
        try:
            print_run(
                request.by,
                issue=issue,
                printed=data["printed"],
                spoiled=data["spoiled"] or 0,
                left=data["left"] or 0,
                batch=data["run_batch"],
                entry_key=data["entry_key"],
            )
        except ValidationError as refusal:
            show_refusal(form, refusal, {"batch": "run_batch"})
        else:
            messages.success(request, "The print run is written down.")
            return moved_on(url_of(row) + "#h-i", request)
    return show_label(request, row, run=form)


SHEETS = Listing(
    template="labels/sheet_list.html",
    sorts={
        "name": Sort("low_name", title="Name"),
        "across": Sort("columns", int, "Across"),
        "down": Sort("rows", int, "Down"),
        "label": Sort("label_width_mm", Decimal, "Width of a label"),
        "page": Sort("page_width_mm", Decimal, "Width of the page"),
    },
    default="name",
    name="sheets",
    heads=("name", "across", "down", "label width mm", "label height mm", "page width mm", "page height mm"),
    cells=lambda row: [
        row.name, row.columns, row.rows, row.label_width_mm, row.label_height_mm, row.page_width_mm,
        row.page_height_mm,
    ],
)  # fmt: skip


@require_GET
def sheets(request: MakerRequest) -> HttpResponse:
    """The sheets that labels are printed on."""
    asked = read_filter(request, SheetFilter, SHEETS)
    rows = SheetLayout.objects.for_maker(request.maker).annotate(low_name=Lower("name"))
    if words := asked.asked("q"):
        rows = rows.filter(name__icontains=words)
    return show_list(request, rows, SHEETS, asked)


@require_http_methods(["GET", "POST"])
def sheet_add(request: MakerRequest) -> HttpResponse:
    """Add a sheet."""
    zero = Decimal(0)
    start = {
        "page_width_mm": Decimal(210),
        "page_height_mm": Decimal(297),
        "left_mm": zero,
        "top_mm": zero,
        "gap_across_mm": zero,
        "gap_down_mm": zero,
    }
    form = SheetLayoutForm(request.POST or None, initial=start, maker=request.maker)
    gone = carried_out(
        request,
        form,
        lambda data: add_sheet_layout(request.by, **data),
        then=address(request.maker, "labels:sheets"),
        said=on_the_list,
    )
    return gone or sheet_form(request, form, "Add a sheet", "Add this sheet")


@require_http_methods(["GET", "POST"])
def sheet_change(request: MakerRequest, uuid: UUID) -> HttpResponse:
    """Change a sheet's measures."""
    row = get_object_or_404(SheetLayout.objects.for_maker(request.maker), uuid=uuid)
    initial = {name: getattr(row, name) for name in SheetLayoutForm.base_fields}
    form = SheetChangeForm(request.POST or None, initial=initial, maker=request.maker)
    gone = carried_out(
        request,
        form,
        lambda data: change_sheet_layout(request.by, sheet=row, **data),
        then=address(request.maker, "labels:sheets"),
        said=CHANGED,
    )
    return gone or sheet_form(request, form, f"Change {row}", "Write down the change")


def sheet_form(request: MakerRequest, form: SheetLayoutForm, title: str, act_word: str) -> HttpResponse:
    """A page of one form."""
    trail = [
        ("Labels", address(request.maker, "labels:labels")),
        ("Sheets", address(request.maker, "labels:sheets")),
    ]
    context = {"form": form, "title": title, "act_word": act_word, "trail": trail}
    return render(request, "labels/one_form.html", context)
