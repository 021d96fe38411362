"""Articles and products."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from formulas.models import Article, Formula, Product, ProductPart
from makers.actions import By, Refused, give_code, recording

SIZES = ("width_mm", "height_mm", "depth_mm")
CHANGEABLE = (
    "name", "shape", *SIZES, "life_months", "pao_months", "markets", "identity", "directions", "price", "active",
    "fill_g", "not_above_c",
)  # fmt: skip


def add_article(
    by: By, *, name: str, kind: str = Article.Kind.CONTAINER, low_stock: int | None = None, note: str = ""
) -> Article:
    """Add a jar, lid, label stock or box."""
    with recording(by, "article.added") as entry:
        article = Article(maker=by.maker, name=name, kind=kind, low_stock=low_stock, note=note)
        article.code = give_code(by, "article", article)
        article.full_clean()
        article.save()
        entry.about(article)
    return article


def change_article(by: By, *, article: Article, **fields: Any) -> Article:
    """Change an article's name, kind, low-stock level or note, or take it out of use."""
    with recording(by, "article.changed") as entry:
        article = Article.objects.for_maker(by.maker).select_for_update().get(pk=article.pk)
        changed = {key: value for key, value in fields.items() if getattr(article, key) != value}
        for key, value in changed.items():
            setattr(article, key, value)
        article.full_clean()
        article.save()
        entry.about(article)
        entry.say(fields=", ".join(sorted(changed)), **changed)
    return article


def add_product(
    by: By,
    *,
    formula: Formula,
    name: str,
    net_amount: Decimal,
    net_unit: str,
    fill_g: Decimal,
    shape: str = Product.Shape.CYLINDER,
    life_months: int | None = None,
    pao_months: int | None = None,
    markets: Sequence[str] = (),
    identity: str = "",
    directions: str = "",
    price: Decimal | None = None,
    parts: Sequence[tuple[Article, int]] = (),
    **sizes: Decimal | None,
) -> Product:
    """Add a product: a formula in one net quantity and container. ``sizes``: width_mm, height_mm, depth_mm."""
    with recording(by, "product.added") as entry:
        product = Product(
            maker=by.maker,
            formula=formula,
            name=name,
            net_amount=net_amount,
            net_unit=net_unit,
            fill_g=fill_g,
            shape=shape,
            life_months=life_months,
            pao_months=pao_months,
            markets=list(markets),
            identity=identity,
            directions=directions,
            price=price,
            **sizes,
        )
        product.code = give_code(by, "product", product)
        check_product(product)
        product.full_clean()
        product.save()
        set_parts(by, product, parts)
        entry.about(product)
        entry.mention(formula)
        entry.say(net=f"{format(net_amount.normalize(), 'f')} {net_unit}")
    return product


GRAMS_IN = {"g": Decimal(1), "oz": Decimal("28.349523125")}


def check_product(product: Product) -> None:
    """A fill may be more than the net weight, never less."""
    grams = GRAMS_IN.get(product.net_unit)
    if grams is not None and product.fill_g < product.net_amount * grams:
        raise Refused(
            {
                "fill_g": f"{format(product.fill_g.normalize(), 'f')} g in the pack is less than the net quantity of "
                f"{format(product.net_amount.normalize(), 'f')} {product.net_unit}. Fill at least that."
            }
        )


def set_parts(by: By, product: Product, parts: Sequence[tuple[Article, int]]) -> None:
    """Write the parts of a product anew."""
    product.parts.all().delete()
    for article, count in parts:
        part = ProductPart(maker=by.maker, product=product, article=article, count=count)
        part.full_clean()
        part.save()


def change_product(
    by: By, *, product: Product, parts: Sequence[tuple[Article, int]] | None = None, **fields: Any
) -> Product:
    """Change a product. Its formula and net quantity stay: another quantity is another product."""
    with recording(by, "product.changed") as entry:
        product = Product.objects.for_maker(by.maker).select_for_update().get(pk=product.pk)
        changed = {key: value for key, value in fields.items() if getattr(product, key) != value}
        if wrong := changed.keys() - set(CHANGEABLE):
            raise Refused(dict.fromkeys(wrong, "This stays as it is. Add another product for another."))
        for key, value in changed.items():
            setattr(product, key, value)
        check_product(product)
        product.full_clean()
        product.save()
        if parts is not None:
            set_parts(by, product, parts)
        entry.about(product)
        entry.say(fields=", ".join(sorted(changed)), **changed)
    return product
