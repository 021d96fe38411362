"""The lists of formulas, of the products they are sold as, and of what these are packed in."""

from __future__ import annotations

from django.db.models import Count, OuterRef, Q, Subquery
from django.http import HttpResponse
from django.views.decorators.http import require_GET
from django.views.decorators.vary import vary_on_headers

from formulas.forms.lists import ArticleFilter, FormulaFilter, ProductFilter
from formulas.models import Article, Formula, FormulaVersion, Product
from makers.http import MakerRequest
from makers.views.lists import WRITTEN, Listing, Sort, read_filter, show_list

FORMULAS = Listing(
    template="formulas/formula_list.html",
    fragment="formulas/_formula_list.html",
    sorts={
        "name": Sort("name", title="Name"),
        "code": Sort("code", title="Code"),
        "form": Sort("form", title="Made as"),
        "written": WRITTEN,
    },
    default="name",
    name="formulas",
    heads=("code", "name", "made as", "on the skin", "newest version", "state"),
    cells=lambda row: [row.code, row.name, row.form, row.kind, row.newest, row.newest_state],
)
PRODUCTS = Listing(
    template="formulas/product_list.html",
    sorts={
        "name": Sort("name", title="Name"),
        "code": Sort("code", title="Code"),
        "formula": Sort("formula__name", title="Formula"),
        "written": WRITTEN,
    },
    default="name",
    name="products",
    heads=(
        "code", "name", "formula", "net quantity", "unit", "fill g", "keeps months", "after opening months",
    ),
    cells=lambda row: [
        row.code, row.name, row.formula.name, row.net_amount, row.net_unit, row.fill_g, row.life_months,
        row.pao_months,
    ],
)  # fmt: skip
ARTICLES = Listing(
    template="formulas/article_list.html",
    sorts={
        "name": Sort("name", title="Name"),
        "code": Sort("code", title="Code"),
        "kind": Sort("kind", title="Kind"),
        "written": WRITTEN,
    },
    default="name",
    name="articles",
    heads=("code", "name", "kind", "low-stock level"),
    cells=lambda row: [row.code, row.name, row.kind, row.low_stock],
)


@require_GET
@vary_on_headers("HX-Request")
def formula_list(request: MakerRequest) -> HttpResponse:
    """The formulas, with their newest version."""
    asked = read_filter(request, FormulaFilter, FORMULAS)
    newest = FormulaVersion.objects.filter(formula=OuterRef("pk")).order_by("-number")
    rows = Formula.objects.for_maker(request.maker).annotate(
        newest=Subquery(newest.values("number")[:1]),
        newest_state=Subquery(newest.values("state")[:1]),
        products_count=Count("products", distinct=True),
    )
    if words := asked.asked("q"):
        rows = rows.filter(Q(name__icontains=words) | Q(code__iexact=words))
    if made_as := asked.asked("form"):
        rows = rows.filter(form=made_as)
    if state := asked.asked("state"):
        rows = rows.filter(newest_state=state)
    return show_list(request, rows, FORMULAS, asked)


@require_GET
def product_list(request: MakerRequest) -> HttpResponse:
    """What the formulas are sold as."""
    asked = read_filter(request, ProductFilter, PRODUCTS)
    rows = Product.objects.for_maker(request.maker).select_related("formula")
    if words := asked.asked("q"):
        rows = rows.filter(
            Q(name__icontains=words) | Q(code__iexact=words) | Q(formula__name__icontains=words)
        )
    if market := asked.asked("market"):
        rows = rows.filter(markets__icontains=f'"{market}"')
    return show_list(request, rows, PRODUCTS, asked)


@require_GET
def article_list(request: MakerRequest) -> HttpResponse:
    """What products are packed in."""
    asked = read_filter(request, ArticleFilter, ARTICLES)
    rows = Article.objects.for_maker(request.maker)
    if words := asked.asked("q"):
        rows = rows.filter(Q(name__icontains=words) | Q(code__iexact=words))
    if kind := asked.asked("kind"):
        rows = rows.filter(kind=kind)
    return show_list(request, rows, ARTICLES, asked)
