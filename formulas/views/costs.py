"""What products cost on screen: one product line by line, all of them against their margins, and what if."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods

from formulas.actions.costs import BASIS_FIELDS, COST_FIELDS, set_cost_basis, set_product_cost
from formulas.costs import Costed, cost_everything, cost_of, currencies_of, load_book, with_cost
from formulas.forms.costs import BasisForm, DayForm, ProductCostForm, TryForm, WhatIfForm
from formulas.models import CostBasis, Product
from formulas.rules.cost import as_decimal
from formulas.rules.currencies import minor_places
from formulas.rules.estimate import Gap, Standing, price_for_margin, price_for_markup, to_charge
from formulas.views.ingredient_pages import form_page
from makers.http import MakerRequest, address
from makers.views.forms import CHANGED, carried_out
from makers.views.lists import Sort, csv_response, sort_asked, wants_csv, words_of

SORTS = {"stands": Sort("stands"), "name": Sort("name"), "margin": Sort("margin")}
STANDINGS: dict[Standing, int] = {"under": 0, "unknown": 1, "holds": 2, "none": 3}
STANDING_WORDS: dict[Standing, str] = {
    "under": "under what is wanted",
    "unknown": "can't be told yet",
    "holds": "holds",
    "none": "nothing wanted",
}
CSV_HEADS = (
    "code", "product", "currency", "price", "cost, at least", "cost is complete", "margin %", "wanted margin %",
    "markup %", "wanted markup %", "price needed", "stands",
)  # fmt: skip


# -- one product


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of a price, margin or markup: what the price now gives, what is wanted, the price for that."""

    name: str
    meaning: str
    of: str
    now: Decimal | None
    wanted: Decimal | None
    price: Decimal | None
    tried: Decimal | None
    tried_price: Decimal | None


@dataclass(frozen=True, slots=True)
class LinkedGap:
    """Something missing, with where to write it."""

    text: str
    cure: str
    url: str


@require_GET
def product_cost(request: MakerRequest, code: str) -> HttpResponse:
    """What a unit of a product costs on a day, line by line, and what its price has to be."""
    row = get_object_or_404(with_cost(Product.objects.for_maker(request.maker)), code=code)
    asked_day = request.GET if "on" in request.GET else None
    day_form = DayForm(asked_day, initial={"on": request.by.today()}, maker=request.maker)
    on = day_of(day_form, request.by.today())
    book = load_book(request.maker, [row], on)
    costed = book.cost(row)
    asked = "margin" in request.GET or "markup" in request.GET
    trying = TryForm(request.GET if asked else None, maker=request.maker)
    codes = {key: one.code for key, one in book.prices.ingredients.items()}
    context = {
        "product": row,
        "costed": costed,
        "estimate": costed.estimate,
        "on": on,
        "is_today": on == request.by.today(),
        "day_form": day_form,
        "try_form": trying,
        "tries": asked and trying.is_valid(),
        "readings": readings(costed, trying),
        "gaps": [linked(request, row, gap, codes) for gap in costed.estimate.gaps],
        "materials": [(line, codes.get(line.ingredient, "")) for line in costed.estimate.materials],
        "record": cost_of(row),
        "basis": book.basis,
    }
    return render(request, "formulas/product_cost.html", context)


def day_of(form: DayForm, today: date) -> date:
    """The day that was asked for; today where none was, or none that can be read."""
    if form.is_bound and form.is_valid() and form.cleaned_data["on"]:
        found: date = form.cleaned_data["on"]
        return found
    return today


def readings(costed: Costed, trying: TryForm) -> list[Reading]:
    """Margin and markup side by side."""
    places, cost = minor_places(costed.product.maker.currency), costed.estimate.total.at_least
    record = costed.wanted
    wanted_margin, wanted_markup = (record.wanted_margin, record.wanted_markup) if record else (None, None)
    tried = trying.cleaned_data if trying.is_bound and trying.is_valid() else {}

    def charge(percent: Decimal | None, reckon: Any) -> Decimal | None:
        return None if percent is None else to_charge(reckon(cost, percent), places)

    return [
        Reading(
            name,
            meaning,
            of,
            now,
            wanted,
            charge(wanted, reckon),
            tried.get(key),
            charge(tried.get(key), reckon),
        )
        for key, name, meaning, of, now, wanted, reckon in (
            (
                "margin", "Margin", "what is left of the price after the cost, as percent of the price", "of the price",
                costed.judged.shown_margin, wanted_margin, price_for_margin,
            ),
            (
                "markup", "Markup", "what is added to the cost, as percent of the cost", "on the cost",
                costed.judged.shown_markup, wanted_markup, price_for_markup,
            ),
        )
    ]  # fmt: skip


def linked(request: MakerRequest, product: Product, gap: Gap, codes: dict[str, str]) -> LinkedGap:
    """A gap with the page on which it is closed."""
    maker = request.maker
    articles = {str(part.article_id): part.article.code for part in product.parts.all()}
    if gap.kind == "ingredient" and gap.key in codes:
        url = address(maker, "formulas:prices", code=codes[gap.key])
    elif gap.kind == "article" and gap.key in articles:
        url = address(maker, "formulas:article-prices", code=articles[gap.key])
    elif gap.kind == "rate":
        url = f"{address(maker, 'formulas:rate-add')}?currency={gap.key}"
    elif gap.kind == "making":
        url = address(maker, "formulas:product-cost-change", code=product.code)
    elif gap.kind == "basis":
        url = address(maker, "formulas:cost-basis")
    else:
        url = address(maker, "formulas:detail", code=product.formula.code)
    return LinkedGap(gap.text, gap.cure, url)


@require_http_methods(["GET", "POST"])
def product_cost_change(request: MakerRequest, code: str) -> HttpResponse:
    """Write how a product is made, what it costs to buy, and what is wanted of its price."""
    row = get_object_or_404(Product.objects.for_maker(request.maker).select_related("cost"), code=code)
    record = cost_of(row)
    initial = {name: getattr(record, name) for name in COST_FIELDS} if record else {}
    form = ProductCostForm(request.POST or None, initial={**initial, "price": row.price}, maker=request.maker)
    back = address(request.maker, "formulas:product-cost", code=code)
    gone = carried_out(
        request,
        form,
        lambda data: set_product_cost(request.by, product=row, **data),
        then=back,
        said=CHANGED,
    )
    if gone is not None:
        return gone
    trail = [(row.name, address(request.maker, "formulas:product", code=code)), ("Cost", back)]
    said = "For a usual batch. Leave empty what you don't know: the cost then says that it isn't complete."
    return form_page(request, form, f"What the cost of {row} rests on", "Write it down", trail, said=said)


@require_http_methods(["GET", "POST"])
def cost_basis(request: MakerRequest) -> HttpResponse:
    """Write what an hour of work costs and how much overhead is added."""
    record = CostBasis.objects.for_maker(request.maker).first()
    initial = {name: getattr(record, name) for name in BASIS_FIELDS} if record else {}
    form = BasisForm(request.POST or None, initial=initial, maker=request.maker)
    back = address(request.maker, "formulas:costs")
    gone = carried_out(
        request, form, lambda data: set_cost_basis(request.by, **data), then=back, said=CHANGED
    )
    if gone is not None:
        return gone
    said = "For every product alike. Leave empty what you don't know; 0 means none."
    return form_page(
        request, form, "Work and overhead", "Write it down", [("Costs and margins", back)], said=said
    )


# -- all products


def short_by(row: Costed) -> Fraction:
    """How far the price stays below what is needed, as a share of the price needed; 0 where it doesn't."""
    needed, price = row.judged.needed, row.product.price
    if not needed or price is None:
        return Fraction(0)
    return max(Fraction(0), 1 - Fraction(price) / needed)


def in_order(rows: Sequence[Costed], asked: str) -> list[Costed]:
    """The rows by how they stand (the furthest under first), by name or by margin."""
    keys: dict[str, Any] = {
        "stands": lambda row: (STANDINGS[row.judged.standing], -short_by(row), row.product.name),
        "name": lambda row: (row.product.name, row.product.pk),
        "margin": lambda row: (row.judged.margin is None, row.judged.margin or 0, row.product.name),
    }
    return sorted(rows, key=keys[asked.lstrip("-")], reverse=asked.startswith("-"))


def needed_price(row: Costed) -> Decimal | None:
    """The price that gives what is wanted, in whole minor units."""
    needed = row.judged.needed
    return None if needed is None else to_charge(needed, minor_places(row.product.maker.currency))


@require_GET
def cost_list(request: MakerRequest) -> HttpResponse:
    """Every product with its margin against the wanted one; those under it first."""
    words = words_of(request)
    asked = sort_asked(request, SORTS, "stands")
    book, found = cost_everything(request.maker, request.by.today(), words)
    rows = in_order(found, asked)
    if wants_csv(request):
        return csv_response("costs-and-margins", CSV_HEADS, rows, csv_cells)
    context = {
        "rows": [(row, needed_price(row)) for row in rows],
        "under": sum(row.judged.standing == "under" for row in rows),
        "words": words,
        "sort": asked,
        "basis": book.basis,
        "currencies": currencies_of(request.maker),
        "csv_query": f"?as=csv&sort={asked}",
    }
    return render(request, "formulas/costs.html", context)


def csv_cells(row: Costed) -> list[Any]:
    """A product as a line of the CSV; ratios to 4 decimals."""
    record, judged, total = row.wanted, row.judged, row.estimate.total

    def short(ratio: Fraction | None) -> Any:
        return "" if ratio is None else round(as_decimal(ratio), 4)

    def given(value: Decimal | None) -> Any:
        return "" if value is None else value

    return [
        row.product.code, row.product.name, row.product.maker.currency, given(row.product.price),
        short(total.at_least), "yes" if total.exact is not None else "no",
        short(judged.margin), given(record.wanted_margin if record else None),
        short(judged.markup), given(record.wanted_markup if record else None),
        given(needed_price(row)), STANDING_WORDS[judged.standing],
    ]  # fmt: skip


# -- what if


@dataclass(frozen=True, slots=True)
class Change:
    """A product before and after a price changes."""

    before: Costed
    after: Costed

    @property
    def falls(self) -> bool:
        """It holds now, or can't be told, and would be under."""
        return self.after.judged.standing == "under" and self.before.judged.standing != "under"

    @property
    def rises(self) -> bool:
        """It is under now and would not be."""
        return self.before.judged.standing == "under" and self.after.judged.standing != "under"


@require_GET
def what_if(request: MakerRequest) -> HttpResponse:
    """Which products would fall under their margin if something became dearer. Writes nothing."""
    asked = "what" in request.GET or "percent" in request.GET
    form = WhatIfForm(request.GET if asked else None, maker=request.maker)
    context: dict[str, Any] = {"form": form}
    if asked and form.is_valid():
        kind, key = form.raised
        raised = {key: Fraction(form.cleaned_data["percent"])}
        book, befores = cost_everything(request.maker, request.by.today())
        changes = []
        for before in befores:
            after = book.cost(
                before.product,
                ingredients=raised if kind == "i" else None,
                articles=raised if kind == "a" else None,
            )
            if after.estimate.total != before.estimate.total:
                changes.append(Change(before, after))
        changes.sort(
            key=lambda one: (not one.falls, STANDINGS[one.after.judged.standing], one.before.product.name)
        )
        context |= {
            "changes": changes,
            "falling": sum(one.falls for one in changes),
            "untouched": len(befores) - len(changes),
            "name": dict_of(form)[form.cleaned_data["what"]],
            "percent": form.cleaned_data["percent"],
        }
    return render(request, "formulas/what_if.html", context)


def dict_of(form: WhatIfForm) -> dict[str, str]:
    """Names by what can be chosen."""
    field: Any = form.fields["what"]
    return {key: name for group, inner in field.choices if group for key, name in inner}
