"""Holds on screen: what a record's page lists of them, and the page on which one is ended."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods

from batches.actions.stock import close_hold
from batches.forms.stock import CloseHoldForm
from batches.models import Hold
from batches.views.leads import lead
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on
from makers.models import Maker, Role
from makers.rules.display import clock


def holds_on(maker: Maker, on: Q) -> list[Hold]:
    """The holds on what ``on`` names, ended ones too, oldest first, in one query."""
    return list(
        Hold.objects.for_maker(maker)
        .filter(on)
        .select_related("opened_by", "closed_by", "batch", "pack")
        .order_by("id")
    )


@require_http_methods(["GET", "POST"])
def hold_close(request: MakerRequest, uuid: UUID) -> HttpResponse:
    """End a hold on a lot, batch or pack; a page of its own, led to from wherever the hold is shown."""
    found = get_object_or_404(
        Hold.objects.for_maker(request.maker).select_related(
            "lot", "batch", "pack", "opened_by", "closed_by"
        ),
        uuid=uuid,
    )
    form = CloseHoldForm(request.POST or None, maker=request.maker)
    kind = "lot" if found.lot else "batch" if found.batch else "pack"
    thing = found.lot or found.batch or found.pack
    back = lead(request.maker, kind, thing.code if thing else "") or address(request.maker, "house:today")
    if request.method == "POST" and form.is_valid():
        try:
            close_hold(request.by, hold=found, why=form.cleaned_data["why"])
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            at = clock(request.by.now().astimezone(request.maker.zone))
            messages.success(request, f"Written down, {at}: the hold on {thing} is ended.")
            return moved_on(back, request)
    context = {
        "form": form,
        "hold": found,
        "thing": thing,
        "kind": kind,
        "back": back,
        "may_close": request.membership.role != Role.READER
        and (found.closed_at is None or bool(form.errors)),
    }
    return render(request, "batches/stock/hold.html", context)
