"""Which of the maker's formulas and products hold a substance: finding it, and the answer."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from formulas.substances import FormulaHolding, holdings_of, known_substances, names_of
from formulas.views.ingredient_pages import trail_of
from makers.http import MakerRequest, address
from makers.views.lists import csv_response, wants_csv, words_of

MOST_HITS = 60
CSV_HEADS = (
    "formula code", "formula", "version", "state", "products", "answer", "at least %", "typical %", "at most %",
    "comes in through", "can't tell",
)  # fmt: skip
ANSWERS = {"yes": "contains it", "may": "may contain it", "unknown": "can't tell"}


@require_GET
def substance_search(request: MakerRequest) -> HttpResponse:
    """Find a substance by any of its names or its CAS number; a name that means one leads straight to it."""
    words = words_of(request)
    known = known_substances(request.maker)
    names = names_of(request.maker, known.values())
    hits = names.search(words, MOST_HITS + 1) if words else []
    if len(hits) == 1 and names.find(words, words).sure:
        return redirect(address(request.maker, "formulas:substance", substance=hits[0].key))
    context = {
        "q": words,
        "hits": [known[one.key] for one in hits[:MOST_HITS]],
        "more": len(hits) > MOST_HITS,
        "all": len(known),
        "trail": trail_of(request),
    }
    return render(request, "formulas/substances.html", context)


@require_GET
def substance(request: MakerRequest, substance: str) -> HttpResponse:
    """A substance, and every formula that holds it, may hold it, or of which it can't be told."""
    row = known_substances(request.maker).get(substance)
    if row is None:
        raise Http404
    found = holdings_of(request.maker, row)
    if wants_csv(request):
        return csv_response(f"contains-{row.key}", CSV_HEADS, found.rows, csv_cells)
    products = {one.pk for each in found.holding for one in each.products}
    trail = [*trail_of(request), ("What contains…", address(request.maker, "formulas:substances"))]
    context = {"substance": row, "found": found, "products": len(products), "trail": trail}
    return render(request, "formulas/substance.html", context)


def csv_cells(row: FormulaHolding) -> list[Any]:
    """One formula as a line of CSV; an empty end is not known."""
    amount = row.holding.amount
    return [
        row.version.formula.code, row.version.formula.name, row.version.number, row.version.state,
        "; ".join(f"{one.code} {one.name}" for one in row.products), ANSWERS[row.holding.answer],
        amount.low if amount else None, amount.typical if amount else None, amount.high if amount else None,
        "; ".join(row.ways),
        "; ".join(f"{' → '.join(one.path)}: {one.reason}" for one in row.holding.doubts),
    ]  # fmt: skip
