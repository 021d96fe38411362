"""From records to what the rules of cost ask: prices in force on a day, exchange rates, nested formulas.

The number of queries depends on how deep in-house ingredients are nested, never on how many rows there are.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.db.models import Min, OuterRef, QuerySet, Subquery

from formulas.assembly import as_rule_line, line_key
from formulas.models import (
    ArticlePrice,
    CostBasis,
    ExchangeRate,
    FormulaVersion,
    Ingredient,
    Price,
    Product,
    ProductCost,
    Source,
)
from formulas.rules.cost import (
    NOTHING,
    Paid,
    PricePerGram,
    Rate,
    Recipe,
    UnitPrice,
    dearer,
    paid_price,
    prices_through,
)
from formulas.rules.estimate import Estimate, Judged, Making, Part, estimate, judge
from formulas.rules.percent import resolve
from formulas.whereused import versions_in_force
from makers.models import Maker

__all__ = ["Book", "Costed", "Currencies", "PricePerGram", "load_book", "load_prices", "price_per_gram"]


def price_per_gram(maker: Maker, ingredient_ids: Collection[int], on: date) -> dict[int, PricePerGram]:
    """What a gram of these ingredients costs on a day, in the maker's currency, with the reason.

    In-house ingredients are reckoned through their formulas to any depth. Every ingredient of the maker that was
    asked for has an entry; its ``amount`` is None where a price, a rate or a share is not on record.
    """
    return load_prices(maker, ingredient_ids, on).per_gram(ingredient_ids)


@dataclass(slots=True)
class PaperPrices:
    """Prices in force on a day, of a set of ingredients and all that is in them. Keys are ingredient keys."""

    bought: dict[str, UnitPrice] = field(default_factory=dict)
    made: dict[str, tuple[str, Recipe | None]] = field(default_factory=dict)
    ingredients: dict[str, Ingredient] = field(default_factory=dict)
    versions: dict[str, FormulaVersion] = field(default_factory=dict)

    def per_gram(
        self, wanted: Collection[int], raised: dict[int, Fraction] | None = None
    ) -> dict[int, PricePerGram]:
        """Prices per gram. raised: percent by which bought ingredients are reckoned dearer."""
        keys = [str(pk) for pk in wanted]
        more = {str(pk): percent for pk, percent in (raised or {}).items()}
        return {int(key): one for key, one in prices_through(keys, self.bought, self.made, more).items()}


def load_prices(maker: Maker, ingredient_ids: Collection[int], on: date) -> PaperPrices:
    """Load these ingredients, what in-house ones are made of, and the prices in force on the day."""
    found = PaperPrices()
    wanted = set(ingredient_ids)
    while wanted:
        rows = list(Ingredient.objects.for_maker(maker).among(wanted))
        found.ingredients |= {str(row.pk): row for row in rows}
        found.bought |= bought_prices(maker, [row for row in rows if row.made_from_id is None], on)
        made = [row for row in rows if row.made_from_id is not None]
        wanted = load_made(maker, found, made) if made else set()
        wanted -= {int(key) for key in found.ingredients}
    return found


def load_made(maker: Maker, found: PaperPrices, made: list[Ingredient]) -> set[int]:
    """Add the formulas of in-house ingredients; returns the ingredients that these take."""
    versions = versions_to_cost(maker, {row.made_from_id for row in made if row.made_from_id})
    inner: set[int] = set()
    for row in made:
        version = versions.get(row.made_from_id or 0)
        found.made[str(row.pk)] = (row.name, None if version is None else as_recipe(version))
        if version is not None:
            found.versions[str(row.pk)] = version
            inner |= {line.ingredient_id for line in version.lines.all()}
    return inner


def versions_to_cost(maker: Maker, formula_ids: Collection[int]) -> dict[int, FormulaVersion]:
    """By formula: the newest approved version, else the newest draft, with its lines."""
    versions = (
        FormulaVersion.objects.for_maker(maker)
        .filter(pk__in=versions_in_force(maker, formula_ids).values())
        .select_related("formula")
        .prefetch_related("lines__ingredient", "lines__leaves")
    )
    return {version.formula_id: version for version in versions}


def as_recipe(version: FormulaVersion) -> Recipe:
    """A version as the rules of cost take it; lines and ingredients must be loaded."""
    lines = list(version.lines.all())
    return Recipe(
        title=f"{version.formula.name}, version {version.number}",
        formula=resolve(as_rule_line(line) for line in lines),
        strained=frozenset(line_key(line) for line in lines if line.strained),
    )


# -- prices in force


def bought_prices(maker: Maker, rows: Iterable[Ingredient], on: date) -> dict[str, UnitPrice]:
    """What bought ingredients cost per gram on a day, by ingredient key."""
    rows = list(rows)
    paid = paid_for_ingredients(maker, [row.pk for row in rows], on)
    return {
        str(row.pk): paid_price(row.name, paid.get(row.pk), maker.currency, key=str(row.pk)) for row in rows
    }


def paid_for_ingredients(maker: Maker, ingredient_ids: Collection[int], on: date) -> dict[int, Paid]:
    """The price that each ingredient goes by on a day.

    Of the source that reviews go by; where that has none, the newest of a source in use; else the newest.
    """
    newest = Price.objects.filter(source=OuterRef("pk"), on__lte=on).order_by("-on", "-pk").values("pk")[:1]
    newest_pks = (
        Source.objects.for_maker(maker)
        .filter(ingredient__in=ingredient_ids)
        .annotate(newest=Subquery(newest))
        .values("newest")
    )
    prices = with_rates(
        Price.objects.for_maker(maker).filter(pk__in=newest_pks).select_related("source__supplier"), maker
    )
    best: dict[int, Any] = {}
    for price in prices:
        other = best.get(price.source.ingredient_id)
        if other is None or _rank(price) > _rank(other):
            best[price.source.ingredient_id] = price
    return {key: as_paid(price, price.pack_g, str(price.source)) for key, price in best.items()}


def _rank(price: Price) -> tuple[bool, bool, date, int]:
    return price.source.preferred, price.source.active, price.on, price.pk


def article_prices(maker: Maker, article_names: dict[int, str], on: date) -> dict[int, UnitPrice]:
    """What articles cost per piece on a day. article_names: by key."""
    earlier = ArticlePrice.objects.filter(article=OuterRef("article"), on__lte=on)
    newest = earlier.order_by("-on", "-pk").values("pk")[:1]
    rows = ArticlePrice.objects.for_maker(maker).filter(article__in=list(article_names), pk=Subquery(newest))
    paid = {row.article_id: as_paid(row, Decimal(row.pieces)) for row in with_rates(rows, maker)}
    return {
        pk: paid_price(name, paid.get(pk), maker.currency, "piece", key=str(pk))
        for pk, name in article_names.items()
    }


def with_rates(rows: QuerySet[Any], maker: Maker) -> QuerySet[Any]:
    """Prices with the exchange rate in force on the day of each: the latest not after it."""
    rate = ExchangeRate.objects.filter(
        maker=maker, currency=OuterRef("currency"), on__lte=OuterRef("on")
    ).order_by("-on")
    found: QuerySet[Any] = rows.annotate(
        rate_on=Subquery(rate.values("on")[:1]),
        rate_worth=Subquery(rate.values("rate")[:1]),
        rate_source=Subquery(rate.values("source")[:1]),
    )
    return found


def as_paid(price: Any, quantity: Decimal, seller: str = "") -> Paid:
    """A price as the rules take it; it must be loaded ``with_rates``."""
    rate = None if price.rate_on is None else Rate(price.rate_on, price.rate_worth, price.rate_source or "")
    return Paid(price.on, price.amount, price.currency, quantity, seller, rate)


# -- products


@dataclass(frozen=True, slots=True)
class Costed:
    """A product with its estimate and how its price stands. version: what was reckoned by; None where none is."""

    product: Product
    version: FormulaVersion | None
    estimate: Estimate
    judged: Judged

    @property
    def wanted(self) -> ProductCost | None:
        """What is on record about making it; None where nothing is."""
        return cost_of(self.product)


@dataclass(slots=True)
class Book:
    """Everything that the cost of a set of products rests on, on one day."""

    maker: Maker
    on: date
    prices: PaperPrices
    versions: dict[int, FormulaVersion]
    recipes: dict[int, Recipe]
    articles: dict[int, UnitPrice]
    basis: CostBasis | None

    def cost(
        self,
        product: Product,
        *,
        ingredients: dict[int, Fraction] | None = None,
        articles: dict[int, Fraction] | None = None,
    ) -> Costed:
        """Reckon one product. ingredients, articles: percent by which these are reckoned dearer, by key."""
        recipe = self.recipes.get(product.formula_id)
        wanted = [int(line.ingredient) for line in recipe.formula.lines] if recipe else []
        prices = self.prices.per_gram(wanted, ingredients)
        more = articles or {}
        parts = [
            Part(
                str(part.article_id),
                part.article.name,
                part.count,
                dearer(self.articles[part.article_id], more.get(part.article_id, NOTHING)),
            )
            for part in product.parts.all()
        ]
        record = cost_of(product)
        found = estimate(
            recipe, {str(pk): one for pk, one in prices.items()}, parts, making_of(product, self.basis)
        )
        margin, markup = (None, None) if record is None else (record.wanted_margin, record.wanted_markup)
        judged = judge(product.price, found.total, margin, markup)
        return Costed(product, self.versions.get(product.formula_id), found, judged)


def cost_of(product: Product) -> ProductCost | None:
    """What is on record about making a product; ``cost`` must be loaded with it."""
    return getattr(product, "cost", None)


def making_of(product: Product, basis: CostBasis | None) -> Making:
    """How a product is made, as the rules take it."""
    record = cost_of(product)
    return Making(
        fill_g=product.fill_g,
        loss=record.loss_percent if record else None,
        batch_units=record.batch_units if record else None,
        batch_minutes=record.batch_minutes if record else None,
        labour_per_hour=basis.labour_per_hour if basis else None,
        overhead=basis.overhead_percent if basis else None,
        currency=product.maker.currency,
    )


def with_cost(rows: QuerySet[Any]) -> QuerySet[Any]:
    """Products with what ``Book.cost`` reads."""
    found: QuerySet[Any] = rows.select_related("cost", "formula", "maker").prefetch_related("parts__article")
    return found


def load_book(maker: Maker, products: Collection[Product], on: date) -> Book:
    """Load what these products rest on; they must be loaded ``with_cost``."""
    versions = versions_to_cost(maker, {row.formula_id for row in products})
    recipes = {pk: as_recipe(version) for pk, version in versions.items()}
    ingredients = {int(line.ingredient) for recipe in recipes.values() for line in recipe.formula.lines}
    names = {part.article_id: part.article.name for row in products for part in row.parts.all()}
    return Book(
        maker=maker,
        on=on,
        prices=load_prices(maker, ingredients, on),
        versions=versions,
        recipes=recipes,
        articles=article_prices(maker, names, on),
        basis=CostBasis.objects.for_maker(maker).first(),
    )


# -- currencies


@dataclass(frozen=True, slots=True)
class Currencies:
    """Foreign currencies in which prices are written. without_rate: those with a price that no rate covers."""

    used: tuple[str, ...]
    without_rate: tuple[str, ...]


def currencies_of(maker: Maker) -> Currencies:
    """Foreign currencies of the prices on record, and which of them want a rate."""
    first_rate = dict(
        ExchangeRate.objects.for_maker(maker)
        .order_by("currency")
        .values_list("currency")
        .annotate(first=Min("on"))
    )
    used: set[str] = set()
    without: set[str] = set()
    for rows in (Price.objects.for_maker(maker), ArticlePrice.objects.for_maker(maker)):
        foreign = rows.exclude(currency=maker.currency).order_by("currency").values_list("currency")
        for currency, first in foreign.annotate(first=Min("on")):
            used.add(currency)
            if currency not in first_rate or first_rate[currency] > first:
                without.add(currency)
    return Currencies(tuple(sorted(used)), tuple(sorted(without)))


def cost_everything(maker: Maker, on: date, words: str = "") -> tuple[Book, list[Costed]]:
    """What is on record on a day, and every product in use with its cost then. words: in the names; "" for all."""
    rows = Product.objects.for_maker(maker).filter(active=True)
    if words:
        rows = rows.filter(name__icontains=words)
    products = list(with_cost(rows))
    book = load_book(maker, products, on)
    return book, [book.cost(row) for row in products]
