"""Suppliers, the articles that they sell, and prices."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from formulas.actions.ingredients.once import identity, settled, written
from formulas.models import Ingredient, Price, Source, Supplier
from makers.actions import By, recording

SUPPLIER_FIELDS = ("name", "country", "contact", "active")


def add_supplier(
    by: By, *, name: str, country: str = "", contact: str = "", entry_key: UUID | None = None
) -> Supplier:
    """Add a supplier."""
    with settled(by):
        if found := written(by, Supplier, entry_key):
            return found
        with recording(by, "supplier.added") as entry:
            row = Supplier(maker=by.maker, name=name, country=country, contact=contact, **identity(entry_key))
            row.full_clean()
            row.save()
            entry.about(row)
    return row


def change_supplier(by: By, *, supplier: Supplier, **fields: Any) -> Supplier:
    """Change a supplier's name, country, contact, or whether it is still in use."""
    if wrong := fields.keys() - set(SUPPLIER_FIELDS):
        raise ValueError(f"{wrong} can't be changed here.")
    with settled(by):
        row: Supplier = Supplier.objects.for_maker(by.maker).select_for_update().get(pk=supplier.pk)
        changed = {key: value for key, value in fields.items() if getattr(row, key) != value}
        if not changed:
            return row
        with recording(by, "supplier.changed") as entry:
            for key, value in changed.items():
                setattr(row, key, value)
            row.full_clean()
            row.save(update_fields=list(changed))
            entry.about(row)
            entry.say(fields=", ".join(sorted(changed)), values=changed)
    return row


def add_source(
    by: By,
    *,
    ingredient: Ingredient,
    supplier: Supplier,
    article_code: str = "",
    name: str = "",
    preferred: bool = False,
    entry_key: UUID | None = None,
) -> Source:
    """Add a supplier's article of an ingredient; the first one is the preferred one."""
    with settled(by):
        if found := written(by, Source, entry_key):
            return found
        with recording(by, "source.added") as entry:
            others = Source.objects.for_maker(by.maker).filter(ingredient=ingredient)
            row = Source(
                maker=by.maker,
                ingredient=ingredient,
                supplier=supplier,
                article_code=article_code,
                name=name,
                preferred=preferred or not others.exists(),
                **identity(entry_key),
            )
            row.full_clean()
            if row.preferred:
                others.update(preferred=False)
            row.save()
            entry.about(ingredient)
            entry.mention(row, supplier)
            entry.say(supplier=str(supplier), article=article_code)
    return row


def prefer_source(by: By, *, source: Source) -> Source:
    """Make a source the one that reviews go by."""
    with settled(by):
        rows = Source.objects.for_maker(by.maker)
        row: Source = rows.select_related("ingredient", "supplier").get(pk=source.pk)
        if row.preferred:
            return row
        with recording(by, "source.preferred") as entry:
            rows.filter(ingredient=row.ingredient).update(preferred=False)
            row.preferred = True
            row.save(update_fields=["preferred"])
            entry.about(row.ingredient)
            entry.mention(row, row.supplier)
            entry.say(supplier=str(row.supplier))
    return row


def add_price(
    by: By,
    *,
    source: Source,
    on: date,
    amount: Decimal,
    pack_g: Decimal,
    currency: str = "",
    entry_key: UUID | None = None,
) -> Price:
    """Write down what a pack of a source costs from a day on. pack_g: grams in the pack."""
    with settled(by):
        if found := written(by, Price, entry_key):
            return found
        with recording(by, "price.added") as entry:
            row = Price(
                maker=by.maker,
                source=source,
                on=on,
                amount=amount,
                currency=currency or by.maker.currency,
                pack_g=pack_g,
                **identity(entry_key),
            )
            row.full_clean()
            row.save()
            entry.about(source.ingredient)
            entry.mention(source)
            entry.say(amount=amount, currency=row.currency, pack=pack_g, on=on)
    return row
