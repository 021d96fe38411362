"""Words for asking about lots, their ledger and holds."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Self

from django.db.models import F, Q

from makers.models import MakerQuerySet

if TYPE_CHECKING:
    from batches.models import Lot
    from formulas.models import Article, Ingredient


class LotQuerySet(MakerQuerySet):
    """Words for lots. ``day`` is always the maker's local date; a lot is good through its last day."""

    def with_subject(self) -> Self:
        """Load what a row of a list shows: the material, its source and supplier, its batch."""
        return self.select_related(
            "ingredient", "article", "rework_of", "source__supplier", "delivery__supplier", "from_batch"
        )

    def of_ingredient(self, ingredient: Ingredient) -> Self:
        """Lots of this ingredient."""
        return self.filter(ingredient=ingredient)

    def of_article(self, article: Article) -> Self:
        """Lots of this article."""
        return self.filter(article=article)

    def on_stock(self) -> Self:
        """Lots of which something is left."""
        return self.filter(on_hand__gt=0)

    def used_up(self) -> Self:
        """Lots of which nothing is left."""
        return self.filter(on_hand=0)

    def of_status(self, *statuses: str) -> Self:
        """Lots about which this was decided."""
        return self.filter(status__in=statuses)

    def held_back(self) -> Self:
        """Lots with an open hold."""
        return self.filter(held=True)

    def in_date(self, day: date) -> Self:
        """Lots still good on ``day``, and those without a date."""
        return self.filter(Q(good_until__isnull=True) | Q(good_until__gte=day))

    def past_date(self, day: date) -> Self:
        """Lots whose last good day, or day of the retest, lies before ``day``."""
        return self.filter(good_until__lt=day)

    def due_by(self, last: date) -> Self:
        """Lots whose last good day is ``last`` or before it."""
        return self.filter(good_until__lte=last)

    def usable(self, day: date) -> Self:
        """Lots that may be weighed on ``day``: released, not held, within their date, with something left."""
        good = Q(good_until__isnull=True) | Q(good_until__gte=day)
        return self.filter(good, status="released", held=False, on_hand__gt=0)

    def first_expiry_first(self) -> Self:
        """The order in which to use them: first expiry, then oldest receipt; without a date last."""
        return self.order_by(F("good_until").asc(nulls_last=True), "received_on", "id")

    def found_by(self, words: str) -> Self:
        """Lots whose code, supplier's lot, material or supplier has these words in it."""
        return self.filter(
            Q(code__icontains=words)
            | Q(supplier_lot__icontains=words)
            | Q(ingredient__name__icontains=words)
            | Q(article__name__icontains=words)
            | Q(rework_of__name__icontains=words)
            | Q(delivery__supplier__name__icontains=words)
        )


class LotEntryQuerySet(MakerQuerySet):
    """Words for the lines of the stock ledger."""

    def of_lot(self, lot: Lot) -> Self:
        """Every line of one lot, as it was written."""
        return self.filter(lot=lot).order_by("id")


class HoldQuerySet(MakerQuerySet):
    """Words for holds."""

    def open(self) -> Self:
        """Holds that nobody has ended yet."""
        return self.filter(closed_at__isnull=True)
