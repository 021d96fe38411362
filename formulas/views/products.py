"""Products and articles."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from formulas.actions.products import add_article, add_product, change_article, change_product
from formulas.forms.products import (
    ArticleChangeForm,
    ArticleForm,
    ProductChangeForm,
    ProductForm,
    ProductHeatForm,
)
from formulas.models import Article, Formula, Product
from formulas.views.firmness import heat_of_product
from makers.actions import entries_about
from makers.forms.seen import changed_by
from makers.http import MakerRequest, address
from makers.registries import panels_for
from makers.views.forms import CHANGED, carried_out, on_the_list
from makers.views.house import journal_rows


@require_GET
def product(request: MakerRequest, code: str) -> HttpResponse:
    """One product with its parts and what other worlds know of it."""
    row = get_object_or_404(Product.objects.for_maker(request.maker).select_related("formula"), code=code)
    context = {
        "product": row,
        "parts": list(row.parts.select_related("article")),
        "heat": heat_of_product(request.maker, row),
        "panels": panels_for(request.maker, row),
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "formulas/product.html", context)


@require_POST
def product_heat(request: MakerRequest, code: str) -> HttpResponse:
    """Fix above what heat a product is neither sold nor sent, as its page suggests."""
    row = get_object_or_404(Product.objects.for_maker(request.maker), code=code)
    form = ProductHeatForm(request.POST, maker=request.maker)
    here = address(request.maker, "formulas:product", code=code)
    gone = carried_out(
        request, form, lambda data: change_product(request.by, product=row, **data), then=here, said=CHANGED
    )
    if gone is not None:
        return gone
    trail = [
        ("Products", address(request.maker, "formulas:products")),
        (row.name, here),
    ]
    return form_page(request, form, f"In heat: {row}", "Write it down", trail)


def form_page(
    request: MakerRequest, form: Any, title: str, act_word: str, trail: list[tuple[str, str]]
) -> HttpResponse:
    """A page of one form."""
    context = {"form": form, "title": title, "act_word": act_word, "trail": trail}
    return render(request, "formulas/one_form.html", context)


@require_http_methods(["GET", "POST"])
def product_add(request: MakerRequest, code: str) -> HttpResponse:
    """Add a product of a formula."""
    formula = get_object_or_404(Formula.objects.for_maker(request.maker), code=code)
    start = {"name": formula.name, "markets": request.maker.markets, "life_months": 12}
    form = ProductForm(request.POST or None, initial=start, maker=request.maker)
    gone = carried_out(
        request,
        form,
        lambda _: add_product(request.by, formula=formula, parts=form.parts, **form.facts),
        then=lambda made: address(request.maker, "formulas:product", code=made.code),
        said=on_the_list,
    )
    if gone is not None:
        return gone
    trail = [
        ("Formulas", address(request.maker, "formulas:list")),
        (formula.name, address(request.maker, "formulas:detail", code=code)),
    ]
    return form_page(request, form, f"Add a product of {formula}", "Add this product", trail)


@require_http_methods(["GET", "POST"])
def product_change(request: MakerRequest, code: str) -> HttpResponse:
    """Change a product."""
    row = get_object_or_404(Product.objects.for_maker(request.maker), code=code)
    initial = {name: getattr(row, name) for name in ProductChangeForm.base_fields if hasattr(row, name)}
    initial["parts"] = [(part.article, part.count) for part in row.parts.select_related("article")]
    form = ProductChangeForm(
        request.POST or None, initial=initial, maker=request.maker, who=changed_by(request, row)
    )
    gone = carried_out(
        request,
        form,
        lambda _: change_product(request.by, product=row, **form.changed),
        then=address(request.maker, "formulas:product", code=code),
        said=CHANGED,
    )
    if gone is not None:
        return gone
    trail = [
        ("Products", address(request.maker, "formulas:products")),
        (row.name, address(request.maker, "formulas:product", code=code)),
    ]
    return form_page(request, form, f"Change {row}", "Write down the change", trail)


@require_http_methods(["GET", "POST"])
def article_add(request: MakerRequest) -> HttpResponse:
    """Add an article."""
    form = ArticleForm(request.POST or None, maker=request.maker)
    gone = carried_out(
        request,
        form,
        lambda data: add_article(request.by, **data),
        then=address(request.maker, "formulas:articles"),
        said=on_the_list,
    )
    if gone is not None:
        return gone
    trail = [("Articles", address(request.maker, "formulas:articles"))]
    return form_page(request, form, "Add an article", "Add this article", trail)


@require_http_methods(["GET", "POST"])
def article(request: MakerRequest, code: str) -> HttpResponse:
    """One article: its facts to change, and what other worlds know of it."""
    row = get_object_or_404(Article.objects.for_maker(request.maker), code=code)
    initial = {name: getattr(row, name) for name in ArticleChangeForm.base_fields}
    form = ArticleChangeForm(
        request.POST or None, initial=initial, maker=request.maker, who=changed_by(request, row)
    )
    gone = carried_out(
        request,
        form,
        lambda _: change_article(request.by, article=row, **form.changes),
        then=address(request.maker, "formulas:article", code=code),
        said=CHANGED,
    )
    if gone is not None:
        return gone
    context = {
        "article": row,
        "form": form,
        "panels": panels_for(request.maker, row),
        "journal": journal_rows(request.maker, entries_about(request.maker, row.uuid)[:12]),
    }
    return render(request, "formulas/article.html", context)
