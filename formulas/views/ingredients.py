"""Ingredients on screen: the list, a page for each, adding, changing, confirming."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_http_methods
from django.views.decorators.vary import vary_on_headers

from formulas.actions.ingredients import FACT_FIELDS, add_ingredient, change_ingredient, confirm_fact
from formulas.composition_pages import by_source
from formulas.forms.ingredients import ConfirmForm, IngredientChangeForm, IngredientFilter, IngredientForm
from formulas.models import Ingredient, Supplier
from formulas.overview import IngredientRow, overview, short_keys, stock_of, with_paper
from formulas.views.ingredient_pages import done, fetch, form_page, trail_of, written_down
from formulas.views.papers import shelf_of_ingredient
from formulas.whereused import where_used
from makers.actions import entries_about
from makers.forms.refusals import show_refusal
from makers.forms.seen import changed_by
from makers.http import MakerRequest, address, moved_on
from makers.models import Maker
from makers.registries import page_links, panels_for
from makers.rules.display import figure
from makers.rules.reading import decimal_mark
from makers.views.house import journal_rows
from makers.views.lists import WRITTEN, Listing, Sort, read_filter, show_list

MOST_USES = 30
JOURNAL_LINES = 12
CSV_HEADS = (
    "code", "name", "also called", "what it does", "declares", "composition", "on hand g", "free to use g",
    "low at g", "cost per kg", "currency", "form", "dissolves in", "density g/ml", "density of",
    "melts from °C", "clear at °C", "add below °C", "pH from", "pH to", "allergen source", "keeps months",
    "formulas", "in use",
)  # fmt: skip
FACT_LABELS = {
    "form": "At 20 °C",
    "soluble_in": "Dissolves in",
    "density_g_ml": "Density, g/ml",
    "melting_low_c": "Melts from, °C",
    "melting_high_c": "Clear melt at, °C",
    "add_below_c": "Add at or below, °C",
    "ph_low": "Works from pH",
    "ph_high": "Works to pH",
    "hlb": "HLB",
    "hlb_required": "Required HLB",
    "dietary_source": "Dietary allergen source",
    "shelf_life_months": "Keeps unopened, months",
}
WORDS = ("form", "soluble_in", "dietary_source")
SELDOM = {"hlb": "emulsifier", "hlb_required": ""}
"""Facts that are shown as unknown only where an ingredient has this role."""


def csv_cells(row: IngredientRow) -> list[Any]:
    """One line of the list as CSV; an empty cell is not known or does not apply."""
    one, cost = row.record, row.cost
    return [
        one.code, one.name, one.common_name, "; ".join(one.roles), row.declares, row.paper,
        row.stock.on_hand, row.stock.free, one.low_stock_g,
        f"{cost.amount:.2f}" if cost else None, cost.currency if cost else None,
        one.form, one.soluble_in, one.density_g_ml, one.density_kind, one.melting_low_c, one.melting_high_c,
        one.add_below_c, one.ph_low, one.ph_high, one.dietary_source, one.shelf_life_months, row.formulas,
        "yes" if one.active else "no",
    ]  # fmt: skip


INGREDIENTS = Listing(
    template="formulas/ingredient_list.html",
    fragment="formulas/_ingredient_list.html",
    sorts={
        "name": Sort("name", title="Name"),
        "code": Sort("code", title="Code"),
        "form": Sort("form", title="Form at 20 °C"),
        "written": WRITTEN,
    },
    default="name",
    name="ingredients",
    heads=CSV_HEADS,
    cells=csv_cells,
)


@require_GET
@vary_on_headers("HX-Request")
def ingredient_list(request: MakerRequest) -> HttpResponse:
    """The maker's ingredients, with what is on hand and how well each is known."""
    asked = read_filter(request, IngredientFilter, INGREDIENTS)
    rows = with_paper(filtered(request.maker, asked))
    links = [
        (link.title, address(request.maker, link.view))
        for link in page_links
        if link.page == "formulas:ingredients"
    ]
    return show_list(
        request,
        rows,
        INGREDIENTS,
        asked,
        shown=lambda page: overview(request.maker, page),
        context={"count": rows.count(), "links": links},
    )


def filtered(maker: Maker, asked: IngredientFilter) -> QuerySet[Any]:
    """The ingredients that the filter leaves. What it doesn't know leaves everything."""
    rows = Ingredient.objects.for_maker(maker)
    state = asked.asked("state")
    rows = rows.put_away() if state == "retired" else rows.in_use()
    if state == "short":
        rows = rows.among(short_keys(maker))
    if state == "unknown":
        rows = rows.of_unknown_composition()
    if words := asked.asked("q"):
        rows = rows.found_by(words)
    if role := asked.asked("role"):
        rows = rows.with_role(role)
    if supplier := asked.asked("supplier"):
        rows = rows.sold_by(Supplier.objects.for_maker(maker).get(uuid=supplier))
    found: QuerySet[Any] = rows
    return found


def lower_first(words: str) -> str:
    """Words as they stand inside a line: "liquid at 20 °C"."""
    return words[:1].lower() + words[1:]


def fact_rows(row: Ingredient) -> list[dict[str, Any]]:
    """Facts with what each rests on; ``value`` is None where it is not known."""
    rows = []
    for field in FACT_FIELDS:
        value = getattr(row, field)
        known = value not in (None, "", "unknown")
        if not known and field in SELDOM and SELDOM[field] not in row.roles:
            continue
        fact = row.facts.get(field, {})
        if field in ("form", "soluble_in") and known:
            value = getattr(row, f"get_{field}_display")()
        note = row.solubility_note if field == "soluble_in" else ""
        if field == "density_g_ml" and known:
            note = lower_first(row.get_density_kind_display())
        rows.append(
            {
                "field": field,
                "label": FACT_LABELS[field],
                "value": value if known else None,
                "is_number": field not in WORDS,
                "note": note,
                "basis": fact.get("basis", "memory"),
                "source": fact.get("source", ""),
                "by": fact.get("by", ""),
                "on": fact.get("at", "")[:10],
            }
        )
    return rows


@require_GET
def ingredient(request: MakerRequest, code: str) -> HttpResponse:
    """One ingredient: facts, compositions by source, use levels, sources, where it is used, its journal."""
    row = fetch(request, code)
    compositions = row.compositions.select_related("source__supplier", "document").prefetch_related(
        "constituents__substance"
    )
    stock = stock_of(request.maker, [row.pk])[row.pk]
    every_use = request.GET.get("uses") == "all"
    sources = list(row.sources.select_related("supplier").prefetch_related("prices"))
    context = {
        "ingredient": row,
        "facts": fact_rows(row),
        "stock": stock,
        "is_short": row.active and stock.is_short(row.low_stock_g),
        "compositions": by_source(row, compositions),
        "use_levels": list(row.use_levels.all()),
        "sources": sources,
        "papers": shelf_of_ingredient(request.maker, row, sources, request.by.today()).newest(),
        "used": where_used(request.maker, row, most=None if every_use else MOST_USES),
        "panels": panels_for(request.maker, row),
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:JOURNAL_LINES]),
    }
    return render(request, "formulas/ingredient.html", context)


@require_http_methods(["GET", "POST"])
def ingredient_add(request: MakerRequest) -> HttpResponse:
    """Add an ingredient of one's own."""
    form = IngredientForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and form.is_valid():
        try:
            made = add_ingredient(request.by, **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, f"{made} is on the list as {made.code}. Its composition comes next.")
            return moved_on(address(request.maker, "formulas:ingredient", code=made.code), request)
    said = "What you don't know stays unknown: leave it empty. Nothing is taken to be zero."
    return form_page(request, form, "Add an ingredient", "Add it", trail_of(request), said=said)


@require_http_methods(["GET", "POST"])
def ingredient_change(request: MakerRequest, code: str) -> HttpResponse:
    """Change facts of an ingredient; only what was changed in the form is changed on record."""
    row = fetch(request, code)
    form = IngredientChangeForm(
        request.POST or None, initial=initial_of(row), maker=request.maker, who=changed_by(request, row)
    )
    if request.method == "POST" and form.is_valid():
        try:
            change_ingredient(
                request.by,
                ingredient=row,
                was=form.was,
                basis=form.cleaned_data["basis"],
                basis_source=form.cleaned_data["basis_source"],
                **form.changes,
            )
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            return done(
                request, row, "The change is written down." if form.changes else "Nothing was changed."
            )
    return form_page(request, form, f"Change {row}", "Write down the change", trail_of(request, row))


def initial_of(row: Ingredient) -> dict[str, Any]:
    """The columns of an ingredient as the form shows them."""
    names = [name for name in IngredientChangeForm.base_fields if hasattr(row, name)]
    return {**{name: getattr(row, name) for name in names}, "made_from": row.made_from_id}


@require_http_methods(["GET", "POST"])
def confirm(request: MakerRequest, code: str, field: str) -> HttpResponse:
    """Confirm a fact that was known from memory or from elsewhere."""
    row = fetch(request, code)
    if field not in FACT_FIELDS:
        raise Http404
    form = ConfirmForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and written_down(
        form,
        lambda: confirm_fact(request.by, ingredient=row, field=field, basis=form.cleaned_data["basis"]),
    ):
        return done(request, row, f"{FACT_LABELS[field]}: confirmed.")
    fact = next(one for one in fact_rows(row) if one["field"] == field)
    value = fact["value"]
    if value is not None and fact["is_number"]:
        value = figure(value, most=8, mark=decimal_mark(request.maker.locale))
    said = f"On record: {value}." if value is not None else "Nothing is on record yet."
    title = f"{row}: confirm “{FACT_LABELS[field]}”"
    return form_page(request, form, title, "Confirm it", trail_of(request, row), said=said)
