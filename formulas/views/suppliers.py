"""Suppliers, the articles that they sell, and use levels."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods

from formulas.actions.ingredients import (
    add_source,
    add_supplier,
    add_use_level,
    change_supplier,
    confirm_use_level,
    prefer_source,
    remove_use_level,
)
from formulas.forms.ingredients import (
    ConfirmForm,
    SourceForm,
    SupplierChangeForm,
    SupplierForm,
    UseLevelForm,
    WhyForm,
)
from formulas.models import Ingredient, Source, Supplier, UseLevel
from formulas.views.ingredient_pages import done, fetch, form_page, trail_of, written_down
from formulas.views.papers import shelf_of_supplier
from makers.actions import entries_about
from makers.forms.seen import changed_by
from makers.http import MakerRequest, address, moved_on
from makers.registries import panels_for
from makers.rules.display import figure
from makers.rules.reading import decimal_mark
from makers.views.house import journal_rows
from makers.views.lists import Sort, csv_response, keyset_page, pager, wants_csv, words_of

CHANGEABLE = ("name", "country", "contact", "active")


@require_http_methods(["GET", "POST"])
def source_add(request: MakerRequest, code: str) -> HttpResponse:
    """Add a supplier's article, of a supplier on the list or of a new one."""
    row = fetch(request, code)
    form = SourceForm(request.POST or None, maker=request.maker)

    def act() -> None:
        data = {key: form.cleaned_data[key] for key in ("article_code", "name", "preferred", "entry_key")}
        with transaction.atomic():
            supplier = form.cleaned_data["supplier"] or supplier_named(
                request, form.cleaned_data["new_supplier"]
            )
            add_source(request.by, ingredient=row, supplier=supplier, **data)

    if request.method == "POST" and written_down(form, act):
        return done(request, row, "The source is written down.")
    return form_page(request, form, f"Add a source of {row}", "Add this source", trail_of(request, row))


def supplier_named(request: MakerRequest, name: str) -> Supplier:
    """The supplier of that name, added where there is none."""
    found = Supplier.objects.for_maker(request.maker).filter(name=name).first()
    return found or add_supplier(request.by, name=name)


@require_http_methods(["POST"])
def source_prefer(request: MakerRequest, code: str, uuid: UUID) -> HttpResponse:
    """Reviews go by this source."""
    row = fetch(request, code)
    source = get_object_or_404(Source.objects.for_maker(request.maker).filter(ingredient=row), uuid=uuid)
    prefer_source(request.by, source=source)
    return done(request, row, f"Reviews go by {source.supplier}.")


@require_http_methods(["GET", "POST"])
def use_level_add(request: MakerRequest, code: str) -> HttpResponse:
    """Write down a use level."""
    row = fetch(request, code)
    form = UseLevelForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and written_down(
        form, lambda: add_use_level(request.by, ingredient=row, **form.cleaned_data)
    ):
        return done(request, row, "The use level is written down.")
    return form_page(request, form, f"Use level of {row}", "Write it down", trail_of(request, row))


def level_of(request: MakerRequest, row: Ingredient, uuid: UUID) -> tuple[UseLevel, str]:
    """A use level of an ingredient, or 404, and its range in words."""
    levels = UseLevel.objects.for_maker(request.maker).filter(ingredient=row)
    level: UseLevel = get_object_or_404(levels, uuid=uuid)
    mark = decimal_mark(request.maker.locale)
    low, high = (None if one is None else figure(one, most=8, mark=mark) for one in (level.low, level.high))
    ends = f"{low} to {high}" if low and high else f"at most {high}" if high else f"at least {low}"
    return level, f"{level.get_kind_display()}: {ends} %, by {level.source or 'nobody named'}."


@require_http_methods(["GET", "POST"])
def use_level_confirm(request: MakerRequest, code: str, uuid: UUID) -> HttpResponse:
    """Confirm a use level against a document."""
    row = fetch(request, code)
    level, said = level_of(request, row, uuid)
    form = ConfirmForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and written_down(
        form, lambda: confirm_use_level(request.by, level=level, basis=form.cleaned_data["basis"])
    ):
        return done(request, row, "The use level is confirmed.")
    trail = trail_of(request, row)
    return form_page(request, form, f"{row}: confirm a use level", "Confirm it", trail, said=said)


@require_http_methods(["GET", "POST"])
def use_level_remove(request: MakerRequest, code: str, uuid: UUID) -> HttpResponse:
    """Take a use level off, with the reason."""
    row = fetch(request, code)
    level, said = level_of(request, row, uuid)
    form = WhyForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and written_down(
        form, lambda: remove_use_level(request.by, level=level, why=form.cleaned_data["why"])
    ):
        return done(request, row, "The use level is off; the journal keeps it.")
    trail = trail_of(request, row)
    return form_page(request, form, f"{row}: take off a use level", "Take it off", trail, said=said)


@require_GET
def supplier_list(request: MakerRequest) -> HttpResponse:
    """Suppliers."""
    rows = Supplier.objects.for_maker(request.maker)
    if words := words_of(request):
        rows = rows.filter(name__icontains=words)
    if wants_csv(request):
        return csv_response(
            "suppliers", ["name", "country", "contact", "in use"], rows.order_by("name", "pk"),
            lambda row: [row.name, row.country, row.contact, "yes" if row.active else "no"],
        )  # fmt: skip
    page = keyset_page(request, rows, {"name": Sort("name")}, "name")
    context = {"page": page, "pager": pager(request, page), "words": words}
    return render(request, "formulas/supplier_list.html", context)


@require_http_methods(["GET", "POST"])
def supplier_add(request: MakerRequest) -> HttpResponse:
    """Add a supplier."""
    form = SupplierForm(request.POST or None, maker=request.maker)
    if request.method == "POST" and written_down(form, lambda: add_supplier(request.by, **form.cleaned_data)):
        messages.success(request, f"{form.cleaned_data['name']} is on the list.")
        return moved_on(address(request.maker, "formulas:suppliers"), request)
    trail = [*trail_of(request), ("Suppliers", address(request.maker, "formulas:suppliers"))]
    return form_page(request, form, "Add a supplier", "Add this supplier", trail)


@require_http_methods(["GET", "POST"])
def supplier(request: MakerRequest, uuid: UUID) -> HttpResponse:
    """One supplier: what they sell, how to reach them."""
    row: Supplier = get_object_or_404(Supplier.objects.for_maker(request.maker), uuid=uuid)
    initial = {name: getattr(row, name) for name in CHANGEABLE}
    form = SupplierChangeForm(
        request.POST or None, initial=initial, maker=request.maker, who=changed_by(request, row)
    )

    def act() -> None:
        change_supplier(request.by, supplier=row, **form.changes)

    if request.method == "POST" and written_down(form, act):
        messages.success(request, "The change is written down.")
        return moved_on(address(request.maker, "formulas:supplier", uuid=uuid), request)
    row.refresh_from_db()
    sources = list(row.sources.select_related("ingredient", "supplier").order_by("ingredient__name", "id"))
    context = {
        "supplier": row,
        "form": form,
        "sources": sources,
        "papers": shelf_of_supplier(request.maker, sources, request.by.today()).newest(),
        "panels": panels_for(request.maker, row),
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "formulas/supplier.html", context)
