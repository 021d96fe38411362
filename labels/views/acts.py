"""Acts on a label: confirm, judge, approve, withdraw, put on packs."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_POST

from batches.models import Pack
from labels.actions.labels import approve_label, confirm_all, judge_caution, withdraw_label
from labels.actions.printing import apply_label
from labels.assembly import assemble_one
from labels.forms.labels import WhyForm
from labels.models import LabelIssue
from labels.proof import proof_of
from labels.views.fetch import fetch_label, url_of
from labels.views.labels import confirm_form, show_label
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on
from makers.views.forms import carried_out


@require_POST
def confirm(request: MakerRequest, code: str, key: str) -> HttpResponse:
    """Confirm the facts ticked."""
    row = fetch_label(request, code, key)
    paper = assemble_one(row)
    proof = proof_of(paper) if paper else None
    form = confirm_form(request, proof, request.POST)
    if form.is_valid() and proof is not None:
        chosen = set(form.cleaned_data["facts"])
        facts = [(fact.key, fact.text) for fact in proof.paper.waiting if fact.key in chosen]
        try:
            made = confirm_all(request.by, label=row, facts=facts, basis=form.cleaned_data["basis"])
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            count = len(made)
            messages.success(
                request, f"{count} fact{'s' * (count > 1)} confirmed, with what you checked against."
            )
            return moved_on(url_of(row) + "#h-f", request)
    return show_label(request, row, confirm=form)


@require_POST
def judge(request: MakerRequest, code: str, key: str) -> HttpResponse:
    """Say that a conditional caution doesn't apply."""
    row = fetch_label(request, code, key)
    form = WhyForm(request.POST, maker=request.maker)
    if form.is_valid():
        try:
            judge_caution(
                request.by, label=row, key=request.POST.get("caution", ""), why=form.cleaned_data["why"]
            )
        except ValidationError as refusal:
            messages.error(request, " ".join(refusal.messages))
    else:
        messages.error(request, "Say in one line why it doesn't apply.")
    return moved_on(url_of(row), request)


@require_POST
def approve(request: MakerRequest, code: str, key: str) -> HttpResponse:
    """Approve the label as it is today."""
    row = fetch_label(request, code, key)
    text = request.POST.get("edit", "")
    edit = int(text) if text.isascii() and text.isdigit() and len(text) < 9 else None
    try:
        issue = approve_label(request.by, label=row, edit=edit)
    except ValidationError as refusal:
        messages.error(request, " ".join(refusal.messages))
    else:
        messages.success(request, f"Issue {issue.number} is approved and fixed, with its PDF.")
    return moved_on(url_of(row), request)


@require_POST
def withdraw(request: MakerRequest, code: str, key: str) -> HttpResponse:
    """Withdraw the label."""
    row = fetch_label(request, code, key)
    form = WhyForm(request.POST, maker=request.maker)
    gone = carried_out(
        request,
        form,
        lambda data: withdraw_label(request.by, label=row, why=data["why"]),
        then=url_of(row),
        said="The label is withdrawn. What was printed stays on record.",
    )
    return gone or show_label(request, row, withdraw=form)


@require_POST
def apply(request: MakerRequest, pack: str, issue: UUID) -> HttpResponse:
    """Write down that an issue went on a pack."""
    units = get_object_or_404(
        Pack.objects.for_maker(request.maker).select_related("batch", "product"), code=pack
    )
    rows = LabelIssue.objects.for_maker(request.maker).select_related("label__product", "label__maker")
    found = get_object_or_404(rows, uuid=issue)
    try:
        apply_label(request.by, pack=units, issue=found)
    except ValidationError as refusal:
        messages.error(request, " ".join(refusal.messages))
    else:
        messages.success(request, f"{units} carries issue {found.number} for {found.label.market}.")
    return moved_on(address(request.maker, "batches:batch", code=units.batch.code), request)
