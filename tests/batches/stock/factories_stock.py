"""The smallest valid records of stock, made without actions where the test is not about them."""

from __future__ import annotations

import itertools
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from batches.actions.stock import count_in, decide_lot, receive_delivery
from batches.models import Delivery, Lot
from formulas.models import Article, Composition, Constituent, Ingredient, Source, Substance, Supplier
from makers.actions import By
from makers.models import Maker

_numbers = itertools.count(1)
PDF = b"%PDF-1.4\n1 0 obj<<>>endobj\ntrailer<<>>\n%%EOF\n"


def make_supplier(maker: Maker, name: str = "") -> Supplier:
    """A supplier."""
    return Supplier.objects.create(maker=maker, name=name or f"Dunlin Oils {next(_numbers)}")


def make_ingredient(maker: Maker, name: str = "", **fields: Any) -> Ingredient:
    """An ingredient."""
    number = next(_numbers)
    return Ingredient.objects.create(
        maker=maker, name=name or f"Sweet almond oil {number}", code=f"I-{number:03}", **fields
    )


def make_article(maker: Maker, name: str = "", **fields: Any) -> Article:
    """A jar."""
    number = next(_numbers)
    return Article.objects.create(maker=maker, name=name or f"Jar {number}", code=f"A-{number:03}", **fields)


def make_source(ingredient: Ingredient, supplier: Supplier, article_code: str = "") -> Source:
    """What a supplier sells of an ingredient."""
    return Source.objects.create(
        maker=ingredient.maker, ingredient=ingredient, supplier=supplier, article_code=article_code
    )


def make_composition(
    ingredient: Ingredient,
    source: Source | None = None,
    *,
    number: int = 1,
    valid_from: date = date(2025, 1, 1),
) -> Composition:
    """A composition of one substance."""
    composition = Composition.objects.create(
        maker=ingredient.maker, ingredient=ingredient, source=source, number=number, valid_from=valid_from
    )
    key = f"substance-{next(_numbers)}"
    substance = Substance.objects.create(
        maker=ingredient.maker, key=key, inci_name="Prunus Amygdalus Dulcis Oil"
    )
    Constituent.objects.create(
        maker=ingredient.maker, composition=composition, substance=substance, typical=Decimal(100)
    )
    return composition


def line(thing: Ingredient | Article, amount: str = "1000", unit: str = "", **fields: Any) -> dict[str, Any]:
    """One line of a delivery."""
    if isinstance(thing, Article):
        return {"article": thing, "amount": Decimal(amount), "unit": unit or "pieces", **fields}
    return {"ingredient": thing, "amount": Decimal(amount), "unit": unit or "g", **fields}


def receive(by: By, *lines: dict[str, Any], **fields: Any) -> Delivery:
    """A delivery of today."""
    given = {"supplier": None, "received_on": by.today(), "currency": "EUR", **fields}
    given["supplier"] = given["supplier"] or make_supplier(by.maker)
    return receive_delivery(by, lines=lines, **given)


def make_lot(
    by: By,
    thing: Ingredient | Article | None = None,
    amount: str = "1000",
    *,
    released: bool = False,
    **fields: Any,
) -> Lot:
    """A lot from a delivery of one line, in quarantine unless ``released``."""
    thing = thing or make_ingredient(by.maker)
    supplier = fields.pop("supplier", None)
    received_on = fields.pop("received_on", by.today())
    delivery = receive(by, line(thing, amount, **fields), supplier=supplier, received_on=received_on)
    lot = Lot.objects.get(delivery=delivery)
    if released:
        decide_lot(by, lot=lot, became="released", basis="looked at, smelled and compared with the last one")
    return lot


def make_opening(
    by: By, thing: Ingredient | Article | None = None, amount: str = "500", **fields: Any
) -> Lot:
    """A lot counted in on the first day."""
    thing = thing or make_ingredient(by.maker)
    return count_in(by, **line(thing, amount, **fields))


def make_upload(name: str = "certificate.pdf", content: bytes = PDF) -> SimpleUploadedFile:
    """A small PDF as a browser sends it."""
    return SimpleUploadedFile(name, content, content_type="application/pdf")


def in_days(by: By, days: int) -> date:
    """The maker's date so many days from today."""
    return by.today() + timedelta(days=days)
