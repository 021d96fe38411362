"""Prices of articles, exchange rates, and what the cost of a product is worked out from."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from formulas.actions.ingredients.once import identity, settled, written
from formulas.models import Article, ArticlePrice, CostBasis, ExchangeRate, Product, ProductCost
from formulas.rules.currencies import is_currency
from makers.actions import By, Refused, recording
from makers.rules.display import day_fact, figure

COST_FIELDS = ("batch_units", "batch_minutes", "loss_percent", "wanted_margin", "wanted_markup")
BASIS_FIELDS = ("labour_per_hour", "overhead_percent")


def currency_of(by: By, currency: str) -> str:
    """The currency in capitals, the maker's own for none. Refused when no currency has these letters."""
    code = currency.strip().upper() or by.maker.currency
    if code != by.maker.currency and not is_currency(code):
        raise Refused(
            {"currency": f"“{currency}” is no currency. Write its three letters, {by.maker.currency} say."}
        )
    return code


def add_article_price(
    by: By,
    *,
    article: Article,
    on: date,
    amount: Decimal,
    pieces: int,
    currency: str = "",
    entry_key: UUID | None = None,
) -> ArticlePrice:
    """Write down what a number of pieces of an article costs from a day on."""
    with settled(by):
        if found := written(by, ArticlePrice, entry_key):
            return found
        with recording(by, "articleprice.added") as entry:
            row = ArticlePrice(
                maker=by.maker,
                article=article,
                on=on,
                amount=amount,
                pieces=pieces,
                currency=currency_of(by, currency),
                **identity(entry_key),
            )
            row.full_clean()
            row.save()
            entry.about(article)
            entry.mention(row)
            entry.say(amount=amount, currency=row.currency, pieces=pieces, on=on)
    return row


def add_rate(
    by: By, *, on: date, currency: str, rate: Decimal, source: str = "", entry_key: UUID | None = None
) -> ExchangeRate:
    """Record what one unit of a foreign currency is worth in the maker's own from a day on."""
    with settled(by):
        if found := written(by, ExchangeRate, entry_key):
            return found
        code = currency_of(by, currency)
        if code == by.maker.currency:
            raise Refused({"currency": f"{code} is your own currency: 1 {code} is 1 {code}."})
        if on > by.today():
            raise Refused({"on": f"{day_fact(on)} is still to come. Record a rate once it is known."})
        if known := ExchangeRate.objects.for_maker(by.maker).filter(currency=code, on=on).first():
            said = f"1 {code} = {figure(known.rate, most=6)} {by.maker.currency} is on record for {day_fact(on)}."
            raise Refused({"on": f"{said} Change that one."})
        with recording(by, "rate.added") as entry:
            row = ExchangeRate(
                maker=by.maker, on=on, currency=code, rate=rate, source=source, **identity(entry_key)
            )
            row.full_clean()
            row.save()
            entry.about(row)
            entry.say(currency=code, rate=rate, own=by.maker.currency, on=on, source=source)
    return row


def change_rate(by: By, *, exchange_rate: ExchangeRate, rate: Decimal, source: str) -> ExchangeRate:
    """Put a recorded rate right. Prices written under it are reckoned anew; the journal keeps what it was."""
    with settled(by):
        row: ExchangeRate = ExchangeRate.objects.for_maker(by.maker).get(pk=exchange_rate.pk)
        if (row.rate, row.source) == (rate, source):
            return row
        with recording(by, "rate.changed") as entry:
            entry.say(currency=row.currency, on=row.on, was=row.rate, rate=rate, source=source)
            row.rate, row.source = rate, source
            row.full_clean()
            row.save()
            entry.about(row)
    return row


def set_cost_basis(by: By, *, labour_per_hour: Decimal | None, overhead_percent: Decimal | None) -> CostBasis:
    """Write what an hour of work costs and how much overhead is added; None for what isn't known."""
    given = {"labour_per_hour": labour_per_hour, "overhead_percent": overhead_percent}
    with settled(by):
        row = CostBasis.objects.for_maker(by.maker).first() or CostBasis(maker=by.maker)
        changed = {key: value for key, value in given.items() if getattr(row, key) != value}
        if not changed and row.pk:
            return row
        with recording(by, "costbasis.changed") as entry:
            write_changes(row, changed)
            entry.about(row)
            entry.say(fields=named(changed), **changed)
    return row


def set_product_cost(by: By, *, product: Product, **fields: Any) -> ProductCost:
    """Write how a product is made as far as its cost goes, what is wanted of its price, and the price itself.

    fields: those of ``COST_FIELDS``, and ``price``; what isn't given stays. None for what isn't known.
    """
    if wrong := fields.keys() - {*COST_FIELDS, "price"}:
        raise ValueError(f"{wrong} can't be changed here.")
    with settled(by):
        product = Product.objects.for_maker(by.maker).get(pk=product.pk)
        found = ProductCost.objects.for_maker(by.maker).filter(product=product).first()
        row = found or ProductCost(maker=by.maker, product=product)
        price = fields.pop("price", product.price)
        changed = {key: value for key, value in fields.items() if getattr(row, key) != value}
        said = changed if price == product.price else {**changed, "price": price}
        if not said and row.pk:
            return row
        with recording(by, "productcost.changed") as entry:
            write_changes(row, changed)
            if price != product.price:
                write_changes(product, {"price": price})
            entry.about(product)
            entry.mention(row)
            entry.say(fields=named(said), **said)
    return row


def write_changes(row: Any, changed: dict[str, Any]) -> None:
    """Set, check and save."""
    for key, value in changed.items():
        setattr(row, key, value)
    row.full_clean()
    row.save()


def named(changed: dict[str, Any]) -> str:
    """The fields in words, for the journal."""
    return ", ".join(sorted(key.replace("_", " ") for key in changed)) or "nothing yet"
