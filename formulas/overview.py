"""What lists and pages say of ingredients beyond their own columns, by a constant number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Count, QuerySet

from formulas.assembly import as_rule_composition, in_force
from formulas.models import Basis, Composition, Ingredient, Line, Source
from formulas.rules.composition import shares
from makers.models import Maker
from makers.registries import ingredient_stock

GRAMS_PER_KG = Decimal(1000)


@dataclass(frozen=True, slots=True)
class Stock:
    """Grams of one ingredient. None = no world of this house keeps stock."""

    on_hand: Decimal | None = None
    free: Decimal | None = None

    def is_short(self, low: Decimal | None) -> bool:
        """Less is free to use than the low-stock level; at the level is not short."""
        return low is not None and self.free is not None and self.free < low


@dataclass(frozen=True, slots=True)
class CostPerKg:
    """The newest price of the source that reviews go by, else of any."""

    amount: Decimal
    currency: str
    source: Source


@dataclass(frozen=True, slots=True)
class IngredientRow:
    """An ingredient as the list shows it. paper: how well its composition is known, with a state's key."""

    record: Ingredient
    declares: str
    paper: str
    paper_state: str
    stock: Stock
    is_short: bool
    cost: CostPerKg | None
    formulas: int


def stock_of(maker: Maker, keys: Sequence[int]) -> dict[int, Stock]:
    """What is here of these ingredients, from the worlds that keep stock."""
    sources = list(ingredient_stock)
    if not sources:
        return {key: Stock() for key in keys}
    on_hand: dict[int, Decimal] = dict.fromkeys(keys, Decimal(0))
    free: dict[int, Decimal] = dict.fromkeys(keys, Decimal(0))
    for source in sources:
        amounts = source.amounts(maker, keys)
        usable = amounts if source.free is None else source.free(maker, keys)
        for key in keys:
            on_hand[key] += amounts.get(key) or 0
            free[key] += usable.get(key) or 0
    return {key: Stock(on_hand[key], free[key]) for key in keys}


def short_keys(maker: Maker) -> list[int]:
    """Keys of the ingredients in use of which less is free than their low-stock level."""
    watched = Ingredient.objects.for_maker(maker).filter(active=True, low_stock_g__isnull=False)
    levels = dict(watched.values_list("pk", "low_stock_g"))
    stock = stock_of(maker, list(levels))
    return [key for key, low in levels.items() if stock[key].is_short(low)]


def with_paper(rows: QuerySet[Any]) -> QuerySet[Any]:
    """The ingredients with everything that ``overview`` reads."""
    return rows.select_related("made_from").prefetch_related(
        "compositions__source",
        "compositions__constituents__substance",
        "sources__prices",
        "sources__supplier",
    )


def overview(maker: Maker, rows: Iterable[Ingredient]) -> list[IngredientRow]:
    """Rows of the list; the ingredients must be loaded ``with_paper``."""
    rows = list(rows)
    keys = [row.pk for row in rows]
    stock = stock_of(maker, keys)
    used = (
        Line.objects.for_maker(maker)
        .filter(ingredient__in=keys)
        .values_list("ingredient")
        .annotate(count=Count("version__formula", distinct=True))
        .order_by("ingredient")
    )
    counts = dict(used)
    found = []
    for row in rows:
        chosen = in_force(row.compositions.all())
        paper, state = paper_of(row, chosen)
        found.append(
            IngredientRow(
                record=row,
                declares=declared_names(chosen),
                paper=paper,
                paper_state=state,
                stock=stock[row.pk],
                is_short=row.active and stock[row.pk].is_short(row.low_stock_g),
                cost=cost_of(row.sources.all()),
                formulas=counts.get(row.pk, 0),
            )
        )
    return found


def declared_names(record: Composition | None) -> str:
    """The INCI names that a composition declares, in its order."""
    if record is None:
        return ""
    declared = [part for part in record.constituents.all() if part.kind == part.Kind.DECLARED]
    return ", ".join(part.substance.inci_name for part in declared)


def paper_of(row: Ingredient, record: Composition | None) -> tuple[str, str]:
    """How well it is known what is in an ingredient: the words and the state's key, "" for nothing to do."""
    if row.made_from_id is not None:
        return "as its formula", ""
    if record is None:
        return "Unknown", "unknown"
    if shares(as_rule_composition(record, row.name)).remainder is not None:
        return "Not complete", "unknown"
    if row.is_perfume and not record.allergens_stated:
        return "Allergens not stated", "unknown"
    if record.basis == Basis.MEMORY:
        return "From memory", "confirm"
    return "complete", ""


def cost_of(sources: Iterable[Source]) -> CostPerKg | None:
    """The newest price of the preferred source, else of any source; per kilogram, for reading only."""
    priced = [(source, price) for source in sources for price in list(source.prices.all())[:1]]
    if not priced:
        return None
    source, price = next((pair for pair in priced if pair[0].preferred), priced[0])
    return CostPerKg(price.amount * GRAMS_PER_KG / price.pack_g, price.currency, source)
