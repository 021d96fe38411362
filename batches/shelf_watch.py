"""What of the shelf needs a hand: lots that wait, expire or ran short, and open holds. All by few queries."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Q, QuerySet, Sum

from batches.models import Hold, Lot, LotStatus
from batches.rules.lot_state import EXPIRY_STEPS
from formulas.models import Article, Ingredient
from makers.models import Maker


@dataclass(frozen=True, slots=True)
class Short:
    """A material of which less is free to use than its low-stock level."""

    name: str
    kind: str
    code: str
    have: Decimal
    low: Decimal
    unit: str


def waiting(maker: Maker) -> QuerySet[Lot]:
    """Lots in quarantine with something in them, oldest first."""
    lots: QuerySet[Lot] = (
        Lot.objects.for_maker(maker)
        .on_stock()
        .of_status(LotStatus.QUARANTINE)
        .with_subject()
        .order_by("received_on", "id")
    )
    return lots


def nearing(maker: Maker, today: date) -> QuerySet[Lot]:
    """Lots with something in them that expired or are within the last step; first to expire first."""
    last = today + timedelta(days=EXPIRY_STEPS[-1])
    lots: QuerySet[Lot] = (
        Lot.objects.for_maker(maker)
        .on_stock()
        .of_status(LotStatus.QUARANTINE, LotStatus.RELEASED)
        .due_by(last)
        .with_subject()
        .first_expiry_first()
    )
    return lots


def open_holds(maker: Maker) -> QuerySet[Hold]:
    """Holds that nobody has ended, newest first."""
    holds: QuerySet[Hold] = (
        Hold.objects.for_maker(maker)
        .open()
        .select_related(
            "lot__ingredient",
            "lot__article",
            "lot__rework_of",
            "batch__formula",
            "pack__product",
            "opened_by",
        )
        .order_by("-opened_at", "-id")
    )
    return holds


def free_to_use(maker: Maker, today: date) -> tuple[dict[int, Decimal], dict[int, Decimal]]:
    """What may be used today: grams by ingredient key, pieces by article key."""
    usable = Lot.objects.for_maker(maker).usable(today)
    grams = usable.filter(ingredient__isnull=False).values_list("ingredient").annotate(have=Sum("on_hand"))
    pieces = usable.filter(article__isnull=False).values_list("article").annotate(have=Sum("on_hand"))
    return dict(grams.order_by()), dict(pieces.order_by())


def on_hand_of(
    maker: Maker, *, ingredient: Ingredient | None = None, article: Article | None = None
) -> Decimal:
    """All that is here of one material, whatever its state."""
    lots = Lot.objects.for_maker(maker).filter(Q(ingredient=ingredient) if ingredient else Q(article=article))
    return lots.aggregate(have=Sum("on_hand"))["have"] or Decimal(0)


def running_short(maker: Maker, today: date) -> list[Short]:
    """Materials in use of which less is free than their low-stock level; at the level is not short."""
    grams, pieces = free_to_use(maker, today)
    found = []
    for ingredient in Ingredient.objects.for_maker(maker).filter(active=True, low_stock_g__isnull=False):
        have = grams.get(ingredient.pk, Decimal(0))
        if have < ingredient.low_stock_g:
            found.append(
                Short(ingredient.name, "ingredient", ingredient.code, have, ingredient.low_stock_g, "g")
            )
    for article in Article.objects.for_maker(maker).filter(active=True, low_stock__isnull=False):
        have, low = pieces.get(article.pk, Decimal(0)), Decimal(article.low_stock or 0)
        if have < low:
            found.append(Short(article.name, "article", article.code, have, low, "pieces"))
    return sorted(found, key=lambda short: short.name.casefold())
