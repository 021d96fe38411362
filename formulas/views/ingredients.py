"""Ingredients on screen: the list, a page for each, the catalogue, suppliers."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods
from django.views.decorators.vary import vary_on_headers

from formulas.actions.ingredients import (
    FACT_FIELDS,
    add_composition,
    add_ingredient,
    add_price,
    add_source,
    add_substance,
    add_supplier,
    add_use_level,
    change_ingredient,
    change_supplier,
    confirm_fact,
    copy_from_catalogue,
    prefer_source,
)
from formulas.assembly import as_rule_composition
from formulas.forms.ingredients import (
    CompositionForm,
    ConfirmForm,
    ConstituentForm,
    IngredientChangeForm,
    IngredientFilter,
    IngredientForm,
    PriceForm,
    SourceForm,
    SubstanceForm,
    SupplierChangeForm,
    SupplierForm,
    UseLevelForm,
)
from formulas.models import Composition, Ingredient, Line, Source, Substance, Supplier
from formulas.rules.catalogue import catalogue, catalogue_compositions
from formulas.rules.composition import shares
from makers.actions import entries_about
from makers.actions.house import file_document
from makers.forms.refusals import show_refusal
from makers.http import MakerRequest, address, moved_on, wants_fragment
from makers.registries import panels_for
from makers.views.house import journal_rows
from makers.views.lists import Sort, csv_response, keyset_page, pager, wants_csv, words_of

SORTS = {"name": Sort("name"), "code": Sort("code")}
EMPTY_ROWS = 4
MOST_ROWS = 120
FACT_LABELS = {
    "form": "At 20 °C",
    "soluble_in": "Dissolves in",
    "density_g_ml": "Density, g/ml",
    "melting_low_c": "Melts from, °C",
    "melting_high_c": "Clear melt at, °C",
    "add_below_c": "Add at or below, °C",
    "ph_low": "Works from pH",
    "ph_high": "Works to pH",
    "dietary_source": "Dietary allergen source",
    "shelf_life_months": "Keeps unopened, months",
}


@require_GET
@vary_on_headers("HX-Request")
def ingredient_list(request: MakerRequest) -> HttpResponse:
    """The maker's ingredients."""
    rows = Ingredient.objects.for_maker(request.maker).select_related("made_from")
    words, role = words_of(request), request.GET.get("role", "")
    if words:
        inside = Q(compositions__constituents__substance__inci_name__icontains=words)
        hits = Ingredient.objects.for_maker(request.maker).filter(
            Q(name__icontains=words) | Q(common_name__icontains=words) | inside
        )
        rows = rows.filter(pk__in=hits.values("pk"))
    if role:
        rows = rows.filter(roles__icontains=f'"{role}"')
    if wants_csv(request):
        heads = ["code", "name", "also called", "what it does", "form", "soluble in", "density g/ml", "add below °C"]
        return csv_response(
            "ingredients",
            heads,
            rows.order_by("name", "pk"),
            lambda row: [
                row.code, row.name, row.common_name, "; ".join(row.roles), row.form, row.soluble_in, row.density_g_ml,
                row.add_below_c,
            ],
        )  # fmt: skip
    page = keyset_page(request, rows, SORTS, "name")
    add_stock(request, page.rows)
    context = {
        "page": page,
        "pager": pager(request, page),
        "filter": IngredientFilter(request.GET or None, maker=request.maker),
        "filtered": bool(words or role),
    }
    template = "formulas/_ingredient_list.html" if wants_fragment(request) else "formulas/ingredient_list.html"
    return render(request, template, context)


def add_stock(request: MakerRequest, rows: list[Ingredient]) -> None:
    """Put what other worlds know of each row beside it: grams on hand, and whether that is low."""
    from makers.registries import ingredient_stock

    for source in ingredient_stock:
        amounts = source.amounts(request.maker, [row.pk for row in rows])
        for row in rows:
            found: Any = row
            found.on_hand = amounts.get(row.pk)
            found.is_low = row.low_stock_g is not None and (found.on_hand or 0) < row.low_stock_g


def fetch(request: MakerRequest, code: str) -> Ingredient:
    """One of the maker's ingredients, or 404."""
    return get_object_or_404(Ingredient.objects.for_maker(request.maker).select_related("made_from"), code=code)


def fact_rows(row: Ingredient) -> list[dict[str, Any]]:
    """Facts with what each rests on."""
    rows = []
    for field in FACT_FIELDS:
        value = getattr(row, field)
        known = value not in (None, "", "unknown")
        fact = row.facts.get(field, {})
        basis = fact.get("basis", "memory")
        if field == "form" and known:
            value = row.get_form_display()
        if field == "soluble_in" and known:
            value = row.get_soluble_in_display()
        rows.append(
            {
                "field": field,
                "label": FACT_LABELS[field],
                "value": value if known else None,
                "is_number": field not in ("form", "soluble_in", "dietary_source"),
                "kind": row.get_density_kind_display() if field == "density_g_ml" and known else "",
                "basis": basis,
                "source": fact.get("source", ""),
                "by": fact.get("by", ""),
            }
        )
    return rows


@require_GET
def ingredient(request: MakerRequest, code: str) -> HttpResponse:
    """One ingredient: facts, compositions, use levels, sources, where it is used."""
    row = fetch(request, code)
    compositions = list(
        row.compositions.select_related("source__supplier", "document")
        .prefetch_related("constituents__substance")
        .order_by("-number")
    )
    used = (
        Line.objects.for_maker(request.maker)
        .filter(ingredient=row)
        .select_related("version__formula")
        .order_by("version__formula__name", "-version__number")
    )
    context = {
        "ingredient": row,
        "facts": fact_rows(row),
        "compositions": [composition_view(row, one) for one in compositions],
        "use_levels": list(row.use_levels.all()),
        "sources": list(row.sources.select_related("supplier").prefetch_related("prices")),
        "used_in": list(used[:60]),
        "panels": panels_for(request.maker, row),
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "formulas/ingredient.html", context)


def composition_view(row: Ingredient, record: Composition) -> dict[str, Any]:
    """A composition with the interval of each share, and what it leaves unknown."""
    found = shares(as_rule_composition(record, row.name))
    return {
        "record": record,
        "declared": found.declared,
        "within": found.within,
        "remainder": found.remainder,
        "findings": found.findings,
    }


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
            messages.success(request, f"{made} is on the list. Its composition comes next.")
            return moved_on(address(request.maker, "formulas:ingredient", code=made.code), request)
    trail = [("Ingredients", address(request.maker, "formulas:ingredients"))]
    return form_page(request, form, "Add an ingredient", "Add this ingredient", trail)


def form_page(
    request: MakerRequest, form: Any, title: str, act_word: str, trail: list[tuple[str, str]]
) -> HttpResponse:
    """A page of one form."""
    context = {"form": form, "title": title, "act_word": act_word, "trail": trail}
    return render(request, "formulas/one_form.html", context)


def trail_of(request: MakerRequest, row: Ingredient) -> list[tuple[str, str]]:
    """Where an ingredient's forms stand."""
    return [
        ("Ingredients", address(request.maker, "formulas:ingredients")),
        (row.name, address(request.maker, "formulas:ingredient", code=row.code)),
    ]


def done(request: MakerRequest, row: Ingredient, words: str) -> HttpResponse:
    """Back to the ingredient with what was written down."""
    messages.success(request, words)
    return moved_on(address(request.maker, "formulas:ingredient", code=row.code), request)


@require_http_methods(["GET", "POST"])
def ingredient_change(request: MakerRequest, code: str) -> HttpResponse:
    """Change facts of an ingredient."""
    row = fetch(request, code)
    initial = {name: getattr(row, name) for name in IngredientChangeForm.base_fields}
    initial["made_from"] = row.made_from_id
    form = IngredientChangeForm(request.POST or None, initial=initial, maker=request.maker)
    if request.method == "POST" and form.is_valid():
        try:
            change_ingredient(request.by, ingredient=row, **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            return done(request, row, "The change is written down.")
    return form_page(request, form, f"Change {row}", "Write down the change", trail_of(request, row))


@require_http_methods(["GET", "POST"])
def confirm(request: MakerRequest, code: str, field: str) -> HttpResponse:
    """Confirm a fact that was known from memory."""
    row = fetch(request, code)
    get_object_or_404(Ingredient.objects.for_maker(request.maker), pk=row.pk if field in FACT_FIELDS else None)
    form = ConfirmForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and form.is_valid():
        try:
            confirm_fact(request.by, ingredient=row, field=field, basis=form.cleaned_data["basis"])
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            return done(request, row, "Confirmed.")
    title = f"{row}: confirm “{FACT_LABELS[field]}”"
    return form_page(request, form, title, "Confirm it", trail_of(request, row))


@require_http_methods(["GET", "POST"])
def source_add(request: MakerRequest, code: str) -> HttpResponse:
    """Add a supplier's article."""
    row = fetch(request, code)
    form = SourceForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and form.is_valid():
        data = dict(form.cleaned_data)
        new = data.pop("new_supplier")
        try:
            if data["supplier"] is None:
                data["supplier"] = add_supplier(request.by, name=new)
            add_source(request.by, ingredient=row, **data)
        except ValidationError as refusal:
            show_refusal(form, refusal, {"name": "new_supplier"})
        else:
            return done(request, row, "The source is written down.")
    return form_page(request, form, f"Add a source of {row}", "Add this source", trail_of(request, row))


@require_http_methods(["POST"])
def source_prefer(request: MakerRequest, code: str, uuid: UUID) -> HttpResponse:
    """Reviews go by this source."""
    row = fetch(request, code)
    source = get_object_or_404(Source.objects.for_maker(request.maker).filter(ingredient=row), uuid=uuid)
    prefer_source(request.by, source=source)
    return done(request, row, f"Reviews go by {source.supplier}.")


@require_http_methods(["GET", "POST"])
def price_add(request: MakerRequest, code: str) -> HttpResponse:
    """Write down a price."""
    row = fetch(request, code)
    form = PriceForm(request.POST or None, initial={"on": request.by.today()}, maker=request.maker, ingredient=row)
    if request.method == "POST" and form.is_valid():
        try:
            add_price(request.by, **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            return done(request, row, "The price is written down.")
    return form_page(request, form, f"Price of {row}", "Write down the price", trail_of(request, row))


@require_http_methods(["GET", "POST"])
def use_level_add(request: MakerRequest, code: str) -> HttpResponse:
    """Write down a use level."""
    row = fetch(request, code)
    form = UseLevelForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and form.is_valid():
        try:
            add_use_level(request.by, ingredient=row, **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            return done(request, row, "The use level is written down.")
    return form_page(request, form, f"Use level of {row}", "Write it down", trail_of(request, row))


def known_substances(request: MakerRequest) -> dict[str, Substance]:
    """Substances by key; the maker's own go before the shared ones."""
    rows = Substance.objects.known_to(request.maker).order_by("maker_id")
    shared = {row.key: row for row in rows if row.maker_id is None}
    return shared | {row.key: row for row in rows if row.maker_id is not None}


@require_http_methods(["GET", "POST"])
def composition_add(request: MakerRequest, code: str) -> HttpResponse:
    """Write the next composition, starting from the one in force."""
    row = fetch(request, code)
    known = known_substances(request)
    if request.method == "POST":
        count = 0
        while count < MOST_ROWS and f"part-{count}-substance" in request.POST:
            count += 1
        forms = [
            ConstituentForm(request.POST, prefix=f"part-{index}", maker=request.maker, known=known)
            for index in range(count)
        ]
        head = CompositionForm(request.POST, request.FILES, maker=request.maker, ingredient=row)
        good = all([head.is_valid(), *[form.is_valid() for form in forms]])
        if request.POST.get("do") == "more":
            forms += [
                ConstituentForm(prefix=f"part-{count + index}", maker=request.maker, known=known)
                for index in range(EMPTY_ROWS)
            ]
        elif good:
            try:
                write_composition(request, row, head, forms)
            except ValidationError as refusal:
                show_refusal(head, refusal)
            else:
                return done(request, row, "The composition is written down. Earlier ones stay as they are.")
    else:
        newest = row.compositions.prefetch_related("constituents__substance").order_by("-number").first()
        starts: list[dict[str, Any]] = [
            {
                "substance": part.substance.inci_name,
                "kind": part.kind,
                "low": part.low,
                "typical": part.typical,
                "high": part.high,
                "rank": part.rank,
                "incidental_reason": part.incidental_reason,
            }
            for part in (newest.constituents.all() if newest else [])
        ]
        starts += [{} for _ in range(EMPTY_ROWS)]
        forms = [
            ConstituentForm(initial=start, prefix=f"part-{index}", maker=request.maker, known=known)
            for index, start in enumerate(starts)
        ]
        head = CompositionForm(initial={"valid_from": request.by.today()}, maker=request.maker, ingredient=row)
    context = {
        "ingredient": row,
        "head": head,
        "forms": forms,
        "substances": sorted(one.inci_name for one in known.values()),
    }
    return render(request, "formulas/composition_form.html", context)


def write_composition(
    request: MakerRequest, row: Ingredient, head: CompositionForm, forms: list[ConstituentForm]
) -> None:
    """File the sheet and write the composition."""
    data = dict(head.cleaned_data)
    paper = data.pop("paper")
    document = file_document(request.by, paper, "specification", row.uuid) if paper else None
    parts = [form.part for form in forms if form.part]
    add_composition(request.by, ingredient=row, constituents=parts, document=document, **data)


@require_http_methods(["GET", "POST"])
def substance_add(request: MakerRequest) -> HttpResponse:
    """Add a substance that the reference does not have."""
    form = SubstanceForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and form.is_valid():
        try:
            made = add_substance(request.by, **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, f"{made} can be used in compositions now.")
            return moved_on(address(request.maker, "formulas:ingredients"), request)
    trail = [("Ingredients", address(request.maker, "formulas:ingredients"))]
    return form_page(request, form, "Add a substance", "Add this substance", trail)


@require_http_methods(["GET", "POST"])
def catalogue_page(request: MakerRequest) -> HttpResponse:
    """The starter catalogue: search it, and copy from it."""
    if request.method == "POST":
        try:
            made = copy_from_catalogue(request.by, key=request.POST.get("key", ""))
        except ValidationError as refusal:
            messages.error(request, " ".join(refusal.messages))
        else:
            messages.success(request, f"{made} is among your ingredients, every figure with what it rests on.")
        query = f"?q={request.POST.get('q', '')[:100]}" if request.POST.get("q") else ""
        return moved_on(address(request.maker, "formulas:catalogue") + query, request)
    words = words_of(request).casefold()
    mine = {name.casefold() for name in Ingredient.objects.for_maker(request.maker).values_list("name", flat=True)}
    compositions = catalogue_compositions()
    rows = []
    for material in catalogue():
        known = compositions.get(material.key)
        names = ", ".join(part.name for part in known.constituents if part.kind == "declared") if known else ""
        if words in f"{material.name} {names} {material.role}".casefold():
            rows.append({"material": material, "inci": names, "have": material.name.casefold() in mine})
    context = {"rows": rows, "q": words_of(request), "count": len(rows), "all": len(catalogue())}
    return render(request, "formulas/catalogue.html", context)


@require_GET
def supplier_list(request: MakerRequest) -> HttpResponse:
    """Suppliers."""
    rows = Supplier.objects.for_maker(request.maker)
    if words := words_of(request):
        rows = rows.filter(name__icontains=words)
    if wants_csv(request):
        return csv_response(
            "suppliers", ["name", "country", "in use"], rows.order_by("name", "pk"),
            lambda row: [row.name, row.country, row.active],
        )  # fmt: skip
    page = keyset_page(request, rows, {"name": Sort("name")}, "name")
    context = {"page": page, "pager": pager(request, page), "words": words}
    return render(request, "formulas/supplier_list.html", context)


@require_http_methods(["GET", "POST"])
def supplier_add(request: MakerRequest) -> HttpResponse:
    """Add a supplier."""
    form = SupplierForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and form.is_valid():
        try:
            made = add_supplier(request.by, **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, f"{made} is on the list.")
            return moved_on(address(request.maker, "formulas:suppliers"), request)
    trail = [("Suppliers", address(request.maker, "formulas:suppliers"))]
    return form_page(request, form, "Add a supplier", "Add this supplier", trail)


@require_http_methods(["GET", "POST"])
def supplier(request: MakerRequest, uuid: UUID) -> HttpResponse:
    """One supplier: what they sell, and how to reach them."""
    row = get_object_or_404(Supplier.objects.for_maker(request.maker), uuid=uuid)
    initial = {name: getattr(row, name) for name in SupplierChangeForm.base_fields}
    form = SupplierChangeForm(request.POST or None, initial=initial, maker=request.maker)
    if request.method == "POST" and form.is_valid():
        try:
            change_supplier(request.by, supplier=row, **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, "The change is written down.")
            return moved_on(address(request.maker, "formulas:supplier", uuid=uuid), request)
    context = {
        "supplier": row,
        "form": form,
        "sources": list(row.sources.select_related("ingredient").order_by("ingredient__name")),
        "panels": panels_for(request.maker, row),
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "formulas/supplier.html", context)
