"""What the pages of an ingredient share: fetching it, where they stand, a page of one form, going back."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render

from formulas.models import Ingredient
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on

Trail = list[tuple[str, str]]


def fetch(request: MakerRequest, code: str) -> Ingredient:
    """One of the maker's ingredients, or 404."""
    rows = Ingredient.objects.for_maker(request.maker).select_related("made_from", "maker")
    row: Ingredient = get_object_or_404(rows, code=code)
    return row


def trail_of(request: MakerRequest, row: Ingredient | None = None) -> Trail:
    """Where a page below the list, or below an ingredient, stands."""
    trail = [("Ingredients", address(request.maker, "formulas:ingredients"))]
    if row is not None:
        trail.append((row.name, address(request.maker, "formulas:ingredient", code=row.code)))
    return trail


def form_page(
    request: MakerRequest,
    form: Any,
    title: str,
    act_word: str,
    trail: Trail,
    *,
    said: str = "",
    template: str = "formulas/ingredient_form.html",
) -> HttpResponse:
    """A page of one form. said: what to know before filling it in."""
    context = {"form": form, "title": title, "act_word": act_word, "trail": trail, "said": said}
    return render(request, template, context)


def done(request: MakerRequest, row: Ingredient, words: str) -> HttpResponse:
    """Back to the ingredient with what was written down."""
    messages.success(request, words)
    return moved_on(address(request.maker, "formulas:ingredient", code=row.code), request)


def written_down(form: Any, act: Any, names: dict[str, str] | None = None) -> bool:
    """Run an action with a form that holds; its refusal goes on the form. names: as ``show_refusal``."""
    if not form.is_valid():
        return False
    try:
        act()
    except ValidationError as refusal:
        show_refusal(form, refusal, names)
        return False
    return True
