"""What things cost: dated article prices, exchange rates, and what a product's cost is worked out from."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from makers.models import MakerQuerySet, MakerRecord, MoneyField, NumberField, PercentField


class ArticlePrice(MakerRecord):
    """What an article cost on a day, for a number of pieces."""

    article = models.ForeignKey("formulas.Article", on_delete=models.PROTECT, related_name="prices")
    on = models.DateField()
    amount = MoneyField()
    currency = models.CharField(max_length=3)
    pieces = models.PositiveIntegerField()

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-on", "-id"]
        constraints = [
            models.CheckConstraint(
                name="articleprice_bounds",
                condition=Q(amount__gte=0, pieces__gt=0, pieces__lte=10_000_000),
                violation_error_message="A price is 0 or more, for at least one piece.",
            )
        ]

    def __str__(self) -> str:
        return f"Price of {self.on}"


class ExchangeRate(MakerRecord):
    """What one unit of a foreign currency was worth on a day, in the maker's own."""

    on = models.DateField()
    currency = models.CharField(max_length=3)
    rate = NumberField("worth in your currency")
    source = models.CharField("where it was looked up", max_length=160, blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["currency", "-on", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "currency", "on"],
                name="exchangerate_once",
                violation_error_message="There is a rate of that currency for that day.",
            ),
            models.CheckConstraint(
                name="exchangerate_bounds",
                condition=Q(rate__gt=0, rate__lte=1_000_000),
                violation_error_message="A rate is above 0.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.currency} on {self.on}"


class CostBasis(MakerRecord):
    """What an hour of work costs and what is added for everything that no batch pays by itself."""

    labour_per_hour = MoneyField(null=True, blank=True)
    overhead_percent = PercentField("overhead, %", null=True, blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["maker"], name="costbasis_once"),
            models.CheckConstraint(
                name="costbasis_bounds",
                condition=(Q(labour_per_hour__isnull=True) | Q(labour_per_hour__gte=0))
                & (Q(overhead_percent__isnull=True) | Q(overhead_percent__gte=0, overhead_percent__lte=1000)),
                violation_error_message="An hour costs 0 or more; overhead lies between 0 and 1000 %%.",
            ),
        ]

    def __str__(self) -> str:
        return "Work and overhead"


class ProductCost(MakerRecord):
    """How a product is made as far as its cost goes: units of a usual batch, minutes, loss, what is wanted."""

    product = models.OneToOneField("formulas.Product", on_delete=models.PROTECT, related_name="cost")
    batch_units = models.PositiveIntegerField("units of a usual batch", null=True, blank=True)
    batch_minutes = NumberField("minutes of work for it", null=True, blank=True)
    loss_percent = PercentField("loss, %", null=True, blank=True)
    wanted_margin = PercentField("wanted margin, % of the price", null=True, blank=True)
    wanted_markup = PercentField("wanted markup, % on the cost", null=True, blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="productcost_bounds",
                condition=(Q(batch_units__isnull=True) | Q(batch_units__gt=0))
                & (Q(batch_minutes__isnull=True) | Q(batch_minutes__gte=0, batch_minutes__lte=100_000))
                & (Q(loss_percent__isnull=True) | Q(loss_percent__gte=0, loss_percent__lt=100))
                & (Q(wanted_margin__isnull=True) | Q(wanted_margin__gte=0, wanted_margin__lt=100))
                & (Q(wanted_markup__isnull=True) | Q(wanted_markup__gte=0, wanted_markup__lte=10_000)),
                violation_error_message="A loss and a margin lie between 0 and less than 100 %%.",
            )
        ]

    def __str__(self) -> str:
        return "How it is made"
