"""Labels, their frozen issues, what was confirmed on a proof, print runs and sheets."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from makers.models import AppendOnly, Event, MakerQuerySet, MakerRecord, NumberField
from makers.models.people import Market


class SheetLayout(MakerRecord):
    """How labels stand on a printed sheet, in millimetres."""

    name = models.CharField(max_length=80)
    page_width_mm = NumberField()
    page_height_mm = NumberField()
    columns = models.PositiveSmallIntegerField()
    rows = models.PositiveSmallIntegerField()
    label_width_mm = NumberField()
    label_height_mm = NumberField()
    left_mm = NumberField()
    top_mm = NumberField()
    gap_across_mm = NumberField(default=0)
    gap_down_mm = NumberField(default=0)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "name"],
                name="sheet_name_once",
                violation_error_code="name_taken",
                violation_error_message=(
                    "There is a sheet of that name already. Give this one another name, or use that one."
                ),
            ),
            models.CheckConstraint(
                name="sheet_bounds",
                condition=Q(columns__gt=0, rows__gt=0, label_width_mm__gt=0, label_height_mm__gt=0)
                & Q(page_width_mm__lte=2000, page_height_mm__lte=2000),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Label(MakerRecord):
    """What a product's label says in one market."""

    class State(models.TextChoices):
        DRAFT = "draft", "Draft"
        APPROVED = "approved", "Approved"
        WITHDRAWN = "withdrawn", "Withdrawn"

    product = models.ForeignKey("formulas.Product", on_delete=models.PROTECT, related_name="labels")
    market = models.CharField(max_length=2, choices=Market.choices)
    language = models.CharField(max_length=5, default="en")
    state = models.CharField(max_length=10, choices=State.choices, default=State.DRAFT)
    identity = models.CharField(max_length=120, blank=True)
    directions = models.TextField(blank=True)
    cautions = models.TextField(blank=True)
    origin = models.CharField("country of origin", max_length=80, blank=True)
    extra = models.TextField(blank=True)
    width_mm = NumberField(default=60)
    height_mm = NumberField(default=40)
    placed_from = models.DateField(
        "first placed on the market", null=True, blank=True, help_text="Decides which allergen list applies."
    )
    product_groups = models.JSONField(
        default=list, blank=True, help_text="Kinds of product for which the US fix a sentence."
    )
    opened = models.CharField(
        "once opened",
        max_length=14,
        blank=True,
        choices=[
            ("", "Keeps for the months on the product"),
            ("single use", "Used up at once"),
            ("never opened", "Can't be opened"),
            ("no spoilage", "Doesn't spoil"),
        ],
        help_text="When months after opening mean nothing.",
    )
    edit = models.PositiveIntegerField(default=0)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["product__name", "market"]
        constraints = [
            models.UniqueConstraint(
                fields=["product", "market", "language"],
                name="label_once",
                violation_error_code="market_taken",
                violation_error_message=(
                    "That product has a label for this market and language. Open that one, or choose others."
                ),
            ),
            models.CheckConstraint(
                name="label_bounds",
                condition=Q(width_mm__gte=10, width_mm__lte=500, height_mm__gte=10, height_mm__lte=500),
                violation_error_message="A label measures from 10 to 500 mm.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.product}, {self.market}"

    @property
    def address_key(self) -> str:
        """Market and language as they stand in the address: "EU-en"."""
        return f"{self.market}-{self.language}"


class FactConfirmation(Event):
    """The maker confirms a fact that was known only from memory."""

    label = models.ForeignKey(Label, on_delete=models.PROTECT, related_name="confirmations")
    key = models.CharField(max_length=160)
    text = models.TextField()
    basis = models.TextField(help_text="Against what it was checked.")

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]


class LabelIssue(AppendOnly):
    """A frozen, approved state of a label."""

    label = models.ForeignKey(Label, on_delete=models.PROTECT, related_name="issues")
    number = models.PositiveSmallIntegerField()
    version = models.ForeignKey("formulas.FormulaVersion", on_delete=models.PROTECT, related_name="+")
    approved_at = models.DateTimeField()
    approved_by = models.ForeignKey("makers.User", on_delete=models.PROTECT, related_name="+")
    snapshot = models.JSONField(help_text="Every printed text, and the declaration with its reasons.")
    declaration = models.TextField()
    compositions = models.JSONField(default=list, help_text="UUIDs of the compositions it covers.")
    rules_edition = models.CharField(max_length=40)
    digest = models.CharField(max_length=64)
    pdf = models.ForeignKey(
        "makers.Document", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["label", "number"], name="issue_number_once")]

    def __str__(self) -> str:
        return f"{self.label}, issue {self.number}"


class AppliedLabel(Event):
    """Which issue went on the units of a pack."""

    pack = models.ForeignKey("batches.Pack", on_delete=models.PROTECT, related_name="applied_labels")
    issue = models.ForeignKey(LabelIssue, on_delete=models.PROTECT, related_name="applied")

    objects = MakerQuerySet.as_manager()


class PrintRun(Event):
    """Labels printed for a batch: printed, spoiled, left over."""

    issue = models.ForeignKey(LabelIssue, on_delete=models.PROTECT, related_name="print_runs")
    batch = models.ForeignKey(
        "batches.Batch", on_delete=models.PROTECT, null=True, blank=True, related_name="print_runs"
    )
    printed = models.PositiveIntegerField()
    spoiled = models.PositiveIntegerField(default=0)
    left = models.PositiveIntegerField(default=0)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [models.CheckConstraint(name="printrun_some", condition=Q(printed__gt=0))]
