"""Packs that come back, on screen."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods

from batches.actions.selling import judge_return, still_out, take_return, waiting
from batches.forms.selling import JudgeForm, ReturnForm
from batches.models import Dispatch, Place, Return
from batches.views.selling import day_now, fetch_pack, form_page
from makers.actions import entries_about
from makers.http import MakerRequest, address
from makers.views.forms import carried_out
from makers.views.house import journal_rows


@require_http_methods(["GET", "POST"])
def return_from_dispatch(request: MakerRequest, code: str, pack_code: str) -> HttpResponse:
    """Packs of a dispatch come back."""
    sent = get_object_or_404(Dispatch.objects.for_maker(request.maker), code=code)
    row = fetch_pack(request, pack_code)
    return form_page(
        request,
        ReturnForm(request.POST or None, initial={"on": day_now(request)}, maker=request.maker),
        lambda data: take_return(request.by, sent=sent, pack=row, **data),
        title=f"{row} comes back from {sent}",
        act_word="Take them back",
        back=(f"Dispatch {sent}", address(request.maker, "batches:dispatch", code=code)),
        done="They wait among the returns until somebody judges them.",
        then=lambda made: address(request.maker, "batches:return", code=made.code),
        text=f"{still_out(sent, row)} are out with it.",
    )


@require_http_methods(["GET", "POST"])
def return_from_place(request: MakerRequest, code: str, pack_code: str) -> HttpResponse:
    """Packs come back from a shop."""
    origin = get_object_or_404(Place.objects.for_maker(request.maker).filter(kind=Place.Kind.SHOP), code=code)
    row = fetch_pack(request, pack_code)
    return form_page(
        request,
        ReturnForm(request.POST or None, initial={"on": day_now(request)}, maker=request.maker),
        lambda data: take_return(request.by, place=origin, pack=row, **data),
        title=f"{row} comes back from {origin}",
        act_word="Take them back",
        back=(str(origin), address(request.maker, "batches:place", code=code)),
        done="They wait among the returns until somebody judges them.",
        then=lambda made: address(request.maker, "batches:return", code=made.code),
    )


@require_http_methods(["GET", "POST"])
def return_page(request: MakerRequest, code: str) -> HttpResponse:
    """One return: what came back and why, and its judgement."""
    row = get_object_or_404(
        Return.objects.for_maker(request.maker).select_related("pack__batch", "pack__product", "dispatch"),
        code=code,
    )
    left = waiting(row)
    form = JudgeForm(request.POST or None, initial={"units": left}, maker=request.maker)
    gone = carried_out(
        request,
        form,
        lambda data: judge_return(request.by, came_back=row, **data),
        then=address(request.maker, "batches:return", code=code),
        said="The judgement is written down.",
    )
    if gone is not None:
        return gone
    context = {
        "came_back": row,
        "left": left,
        "form": form,
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "batches/selling/return.html", context)
