"""Dated prices of ingredients and articles, and exchange rates, on screen."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_http_methods

from formulas.actions.costs import add_article_price, add_rate, change_rate
from formulas.actions.ingredients import add_price
from formulas.costs import article_prices, as_paid, currencies_of, price_per_gram, with_rates
from formulas.forms.costs import ArticlePriceForm, PriceForm, RateChangeForm, RateFilter, RateForm
from formulas.models import Article, ArticlePrice, ExchangeRate, Price
from formulas.rules.cost import as_decimal, paid_price
from formulas.views.falling import Falling, under_with
from formulas.views.ingredient_pages import fetch, form_page, trail_of
from makers.http import MakerRequest, address
from makers.rules.display import day_fact, figure
from makers.rules.reading import decimal_mark
from makers.views.forms import CHANGED, carried_out
from makers.views.lists import (
    Listing,
    Sort,
    csv_response,
    keyset_page,
    pager,
    read_filter,
    show_list,
    wants_csv,
)

BY_DAY = {"on": Sort("on", date)}
KG = 1000
SAID = (
    "A later price leaves what an earlier day cost as it was. One written for the same day takes the earlier "
    "one's place."
)

RATES = Listing(
    template="formulas/rates.html",
    sorts={"on": Sort("on", date, "From"), "currency": Sort("currency", title="Currency")},
    default="-on",
    name="rates",
    heads=("currency", "from", "worth", "looked up"),
    cells=lambda row: [row.currency, row.on, row.rate, row.source],
)


def shown_price(row: Any, own: str, quantity: Any, times: int) -> dict[str, Any]:
    """A price as the history shows it: per kilogram or piece in the maker's currency, with the rate."""
    found = paid_price("It", as_paid(row, Decimal(quantity)), own)
    each = None if found.exact is None else as_decimal(found.exact * times)
    return {"row": row, "each": each, "foreign": row.currency != own}


@require_GET
def prices(request: MakerRequest, code: str) -> HttpResponse:
    """What an ingredient cost and costs, each price from its day on."""
    row = fetch(request, code)
    own, today = request.maker.currency, request.by.today()
    rows: QuerySet[Any] = Price.objects.for_maker(request.maker).filter(source__ingredient=row)
    rows = with_rates(rows.select_related("source__supplier"), request.maker)
    if wants_csv(request):
        heads = ["from", "source", "price", "currency", "pack g", f"{own} per kg"]
        return csv_response(
            f"prices-{row.code}",
            heads,
            rows.order_by("-on", "-pk"),
            lambda one: [
                one.on, str(one.source), one.amount, one.currency, one.pack_g,
                rounded(shown_price(one, own, one.pack_g, KG)["each"]),
            ],
        )  # fmt: skip
    page = keyset_page(request, rows, BY_DAY, "-on")
    now = price_per_gram(request.maker, [row.pk], today)[row.pk]
    context = {
        "ingredient": row,
        "page": page,
        "pager": pager(request, page),
        "prices": [shown_price(one, own, one.pack_g, KG) for one in page.rows],
        "any_foreign": any(one.currency != own for one in page.rows),
        "now": now,
        "now_each": None if now.exact is None else as_decimal(now.exact * KG),
        "under": under_with(request, ingredient=row.pk),
        "add_url": ""
        if row.made_from_id or not row.sources.exists()
        else address(request.maker, "formulas:price-add", code=code),
    }
    return render(request, "formulas/prices.html", context)


def rounded(each: Any) -> Any:
    """To 4 decimals for a table of figures; nothing for what isn't known."""
    return "" if each is None else round(each, 4)


@require_http_methods(["GET", "POST"])
def price_add(request: MakerRequest, code: str) -> HttpResponse:
    """Write down what a source costs from a day on."""
    row = fetch(request, code)
    initial = {"on": request.by.today(), "currency": request.maker.currency}
    form = PriceForm(request.POST or None, initial=initial, maker=request.maker, ingredient=row)
    falling = Falling(request)
    back = address(request.maker, "formulas:prices", code=code)
    gone = carried_out(
        request,
        form,
        lambda data: falling.through(data["on"], lambda: add_price(request.by, **data)),
        then=back,
        said="The price is written down.",
    )
    if gone is not None:
        falling.say()
        return gone
    trail = [*trail_of(request, row), ("Prices", back)]
    return form_page(request, form, f"Price of {row}", "Write down the price", trail, said=SAID)


def fetch_article(request: MakerRequest, code: str) -> Article:
    """One of the maker's articles, or 404."""
    row: Article = get_object_or_404(Article.objects.for_maker(request.maker), code=code)
    return row


@require_GET
def prices_of_article(request: MakerRequest, code: str) -> HttpResponse:
    """What an article cost and costs, each price from its day on."""
    row = fetch_article(request, code)
    own, today = request.maker.currency, request.by.today()
    rows = with_rates(ArticlePrice.objects.for_maker(request.maker).filter(article=row), request.maker)
    if wants_csv(request):
        heads = ["from", "price", "currency", "pieces", f"{own} per piece"]
        return csv_response(
            f"prices-{row.code}",
            heads,
            rows.order_by("-on", "-pk"),
            lambda one: [
                one.on, one.amount, one.currency, one.pieces,
                rounded(shown_price(one, own, one.pieces, 1)["each"]),
            ],
        )  # fmt: skip
    page = keyset_page(request, rows, BY_DAY, "-on")
    now = article_prices(request.maker, {row.pk: row.name}, today)[row.pk]
    context = {
        "article": row,
        "page": page,
        "pager": pager(request, page),
        "prices": [shown_price(one, own, one.pieces, 1) for one in page.rows],
        "any_foreign": any(one.currency != own for one in page.rows),
        "now": now,
        "now_each": now.amount,
        "under": under_with(request, article=row.pk),
        "add_url": address(request.maker, "formulas:article-price-add", code=code),
    }
    return render(request, "formulas/prices.html", context)


@require_http_methods(["GET", "POST"])
def article_price_add(request: MakerRequest, code: str) -> HttpResponse:
    """Write down what an article costs from a day on."""
    row = fetch_article(request, code)
    initial = {"on": request.by.today(), "currency": request.maker.currency}
    form = ArticlePriceForm(request.POST or None, initial=initial, maker=request.maker)
    falling = Falling(request)
    back = address(request.maker, "formulas:article-prices", code=code)
    gone = carried_out(
        request,
        form,
        lambda data: falling.through(data["on"], lambda: add_article_price(request.by, article=row, **data)),
        then=back,
        said="The price is written down.",
    )
    if gone is not None:
        falling.say()
        return gone
    trail = [(row.name, address(request.maker, "formulas:article", code=code)), ("Prices", back)]
    return form_page(request, form, f"Price of {row}", "Write down the price", trail, said=SAID)


# -- exchange rates


@require_GET
def rates(request: MakerRequest) -> HttpResponse:
    """What foreign currencies were worth, from which day on."""
    asked = read_filter(request, RateFilter, RATES)
    rows = ExchangeRate.objects.for_maker(request.maker)
    if asked.asked("q"):
        rows = rows.filter(currency__icontains=asked.asked("q"))
    return show_list(request, rows, RATES, asked, context={"currencies": currencies_of(request.maker)})


@require_http_methods(["GET", "POST"])
def rate_add(request: MakerRequest) -> HttpResponse:
    """Record a rate."""
    currency = request.GET.get("currency", "")[:3]
    initial = {"on": request.by.today(), "currency": currency if currency.isalpha() else ""}
    form = RateForm(request.POST or None, initial=initial, maker=request.maker)
    back = address(request.maker, "formulas:rates")
    gone = carried_out(
        request,
        form,
        lambda data: add_rate(request.by, **data),
        then=back,
        said=lambda made: f"1 {made.currency} = {shown_rate(made, request)} is on record.",
    )
    if gone is not None:
        return gone
    said = "A price goes by the latest rate that begins not after its own day."
    return form_page(request, form, "Record a rate", "Record it", rates_trail(request), said=said)


@require_http_methods(["GET", "POST"])
def rate_change(request: MakerRequest, uuid: UUID) -> HttpResponse:
    """Put a recorded rate right."""
    row: ExchangeRate = get_object_or_404(ExchangeRate.objects.for_maker(request.maker), uuid=uuid)
    initial = {"rate": row.rate, "source": row.source}
    form = RateChangeForm(request.POST or None, initial=initial, maker=request.maker)
    gone = carried_out(
        request,
        form,
        lambda data: change_rate(request.by, exchange_rate=row, **data),
        then=address(request.maker, "formulas:rates"),
        said=CHANGED,
    )
    if gone is not None:
        return gone
    title = f"Rate of {row.currency} from {day_fact(row.on)}"
    said = "Prices written under it are reckoned anew; the journal keeps what it was."
    return form_page(request, form, title, "Write down the change", rates_trail(request), said=said)


def shown_rate(row: ExchangeRate, request: MakerRequest) -> str:
    """What one unit is worth, in words."""
    return f"{figure(row.rate, most=6, mark=decimal_mark(request.maker.locale))} {request.maker.currency}"


def rates_trail(request: MakerRequest) -> list[tuple[str, str]]:
    """Where the pages of rates stand."""
    return [
        ("Costs and margins", address(request.maker, "formulas:costs")),
        ("Rates", address(request.maker, "formulas:rates")),
    ]
