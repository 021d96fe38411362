"""What each list can be asked for: its words, every sort both ways, every choice of its filter."""

from __future__ import annotations

from collections.abc import Iterator

from django import forms

from batches.forms.lists import (
    BatchFilter,
    ComplaintFilter,
    DeliveryFilter,
    DispatchFilter,
    LotFilter,
    PackFilter,
    PlaceFilter,
    RecallFilter,
    RecipientFilter,
)
from batches.views.making import BATCHES
from batches.views.selling_lists import DISPATCHES, PACKS, PLACES, RECIPIENTS
from batches.views.stock import DELIVERIES, LOTS
from batches.views.tracing_lists import COMPLAINTS, RECALLS
from formulas.forms.costs import RateFilter
from formulas.forms.ingredients import IngredientFilter
from formulas.forms.lists import ArticleFilter, FormulaFilter, ProductFilter
from formulas.views.ingredients import INGREDIENTS
from formulas.views.lists import ARTICLES, FORMULAS, PRODUCTS
from formulas.views.prices import RATES
from labels.forms.labels import LabelFilter, SheetFilter
from labels.views.labels import LABELS
from labels.views.printing import SHEETS
from makers.forms.lists import FilterForm
from makers.views.lists import Listing

LISTS: dict[str, tuple[Listing, type[FilterForm]]] = {
    "batches:lots": (LOTS, LotFilter),
    "batches:deliveries": (DELIVERIES, DeliveryFilter),
    "batches:batches": (BATCHES, BatchFilter),
    "batches:packs": (PACKS, PackFilter),
    "batches:places": (PLACES, PlaceFilter),
    "batches:recipients": (RECIPIENTS, RecipientFilter),
    "batches:dispatches": (DISPATCHES, DispatchFilter),
    "batches:complaints": (COMPLAINTS, ComplaintFilter),
    "batches:recalls": (RECALLS, RecallFilter),
    "formulas:ingredients": (INGREDIENTS, IngredientFilter),
    "formulas:list": (FORMULAS, FormulaFilter),
    "formulas:products": (PRODUCTS, ProductFilter),
    "formulas:articles": (ARTICLES, ArticleFilter),
    "labels:labels": (LABELS, LabelFilter),
    "labels:sheets": (SHEETS, SheetFilter),
    "formulas:rates": (RATES, RateFilter),
}
"""The lists that are shown by ``show_list``, with their filters."""

SORTS = [
    (name, way + key) for name, (listing, _) in LISTS.items() for key in listing.sorts for way in ("", "-")
]
"""Each sort of each of these lists, both ways."""

OTHERS = {
    "formulas:costs": ("q=a", "sort=name", "sort=-name", "sort=margin", "sort=-margin", "sort=stands", "as=csv"),
    "formulas:suppliers": ("q=s", "sort=name", "sort=-name", "as=csv"),
    "formulas:catalogue": ("q=oil",),
    "formulas:ingredient": ("uses=all",),
    "formulas:ingredient-papers": ("sort=kept", "sort=-kept", "as=csv"),
    "formulas:supplier-papers": ("sort=kept", "sort=-kept", "as=csv"),
    "house:journal": ("q=o", "as=csv"),
    "house:search": ("q=o", "q=oil", "q=shop", "q=b", "q=stall", "q=nothing-like-it"),
    "batches:trace": (
        "q=L1", "q=L1&way=back", "q=L2&way=forward", "q=S-OIL-77", "q=B1", "q=B2&way=back", "q=B2&way=forward",
        "q=B3&way=forward", "q=R1&way=back", "q={pack}", "q={pack}&way=forward", "q={dispatch}", "q={recipient}",
        "q={delivery}", "q={complaint}", "q=L1&all=1", "q=L1&as=csv", "q=B2&way=forward&as=csv",
    ),
}  # fmt: skip
"""What else is asked for. Words in brackets are codes of the world."""


def queries_of(name: str) -> Iterator[str]:
    """Every query that a list of ``LISTS`` answers by itself, each choice and each sort once."""
    listing, form = LISTS[name]
    yield "q=e"
    yield "as=csv"
    yield from (f"sort={sort}" for owner, sort in SORTS if owner == name)
    for field, control in form.base_fields.items():
        if isinstance(control, forms.BooleanField):
            yield f"{field}=1"
        elif isinstance(control, forms.ChoiceField) and field != "sort":
            for key, _ in control.widget.choices:
                if key:
                    yield f"{field}={key}&sort={listing.default}"
