"""The starter catalogue: search it, look at one material with what every figure rests on, copy it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods

from formulas.actions.ingredients import copy_from_catalogue
from formulas.actions.ingredients.catalogue import COPIED, usual_name
from formulas.forms.ingredients import CopyForm
from formulas.models import DensityKind, Form, Ingredient, Solubility
from formulas.reference import basis_word
from formulas.rules.catalogue import CatalogueMaterial, catalogue, catalogue_by_key, catalogue_compositions
from formulas.views.ingredient_pages import done, trail_of
from formulas.views.ingredients import FACT_LABELS, WORDS, lower_first
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on
from makers.views.lists import words_of


def declares(key: str) -> str:
    """The INCI names that a material declares."""
    known = catalogue_compositions().get(key)
    return ", ".join(part.name for part in known.constituents if part.kind == "declared") if known else ""


@require_http_methods(["GET", "POST"])
def catalogue_page(request: MakerRequest) -> HttpResponse:
    """Raw materials to start from; copying one leads back here, so that several go quickly."""
    if request.method == "POST":
        return copied(request)
    words = words_of(request)
    mine = dict(Ingredient.objects.for_maker(request.maker).values_list("name", "code"))
    rows = [
        {
            "material": one,
            "inci": names,
            "have": mine.get(usual_name(one), ""),
        }
        for one in catalogue()
        if words.casefold() in f"{one.name} {(names := declares(one.key))} {one.role}".casefold()
    ]
    context = {"rows": rows, "q": words, "all": len(catalogue()), "copied": len(mine)}
    return render(request, "formulas/catalogue.html", context)


def copied(request: MakerRequest) -> HttpResponse:
    """Copy the material whose button was pressed."""
    try:
        made = copy_from_catalogue(request.by, key=request.POST.get("key", ""))
    except ValidationError as refusal:
        messages.error(request, " ".join(refusal.messages))
    else:
        messages.success(request, f"{made} is among your ingredients as {made.code}.")
    words = words_of(request) or request.POST.get("q", "")[:100]
    query = f"?{urlencode({'q': words})}" if words else ""
    return moved_on(address(request.maker, "formulas:catalogue") + query, request)


def fact_rows(material: CatalogueMaterial) -> list[dict[str, Any]]:
    """The facts of a material with what each rests on."""
    words = {"form": dict(Form.choices), "soluble_in": dict(Solubility.choices)}
    rows = []
    for field in COPIED:
        value = getattr(material, field)
        known = value not in (None, "", "unknown")
        note = material.solubility_note if field == "soluble_in" else ""
        if field == "density_g_ml" and known:
            note = lower_first(dict(DensityKind.choices).get(material.density_kind, ""))
        rows.append(
            {
                "label": FACT_LABELS[field],
                "value": words.get(field, {}).get(value, value) if known else None,
                "is_number": field not in WORDS,
                "basis": basis_word(material.basis_of(field)),
                "note": note,
            }
        )
    return rows


@require_http_methods(["GET", "POST"])
def material_page(request: MakerRequest, key: str) -> HttpResponse:
    """One material: every figure with its basis, and copying it under a name of choice."""
    material = catalogue_by_key().get(key)
    if material is None:
        raise Http404
    form = CopyForm(request.POST or None, initial={"name": usual_name(material)}, maker=request.maker)
    if request.method == "POST" and form.is_valid():
        try:
            made = copy_from_catalogue(request.by, key=key, **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            return done(request, made, f"{made} is among your ingredients as {made.code}.")
    trail = [*trail_of(request), ("The starter catalogue", address(request.maker, "formulas:catalogue"))]
    context = {
        "material": material,
        "title": usual_name(material),
        "facts": fact_rows(material),
        "use_basis": basis_word(material.basis_of("use_high")),
        "composition": catalogue_compositions().get(key),
        "form": form,
        "trail": trail,
    }
    return render(request, "formulas/catalogue_material.html", context)
