"""Deliveries, lots, the stock ledger, decisions, retests and holds."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import models
from django.db.models import Q

from batches.querysets.stock import HoldQuerySet, LotEntryQuerySet, LotQuerySet
from batches.rules.lot_state import LotFacts
from makers.models import Event, MakerQuerySet, MakerRecord, MoneyField
from makers.models.fields import GramsField


class Delivery(MakerRecord):
    """Goods that came from a supplier under one reference."""

    code = models.CharField(max_length=20, editable=False)
    supplier = models.ForeignKey("formulas.Supplier", on_delete=models.PROTECT, related_name="deliveries")
    reference = models.CharField("their reference", max_length=80, blank=True)
    currency = models.CharField(max_length=3)
    freight = MoneyField(null=True, blank=True)
    received_on = models.DateField()
    entered_at = models.DateTimeField()
    user = models.ForeignKey("makers.User", on_delete=models.PROTECT, related_name="+")
    note = models.TextField(blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-received_on", "-id"]
        verbose_name_plural = "deliveries"
        constraints = [models.UniqueConstraint(fields=["maker", "code"], name="delivery_code_once")]

    def __str__(self) -> str:
        return self.code


class LotStatus(models.TextChoices):
    """What was decided about a lot. Expired and used up are reckoned, never set."""

    QUARANTINE = "quarantine", "Quarantine"
    RELEASED = "released", "Released"
    REJECTED = "rejected", "Rejected"


class Lot(MakerRecord):
    """An identified quantity of one ingredient or article, or of bulk set aside for rework.

    ``on_hand`` is in the lot's unit: grams (to 0.0001) or pieces. It is kept by a database trigger from the
    ledger's entries and can never be negative.
    """

    class Unit(models.TextChoices):
        GRAMS = "g", "g"
        PIECES = "pieces", "pieces"

    class Origin(models.TextChoices):
        DELIVERY = "delivery", "Delivery"
        BATCH = "batch", "Made here"
        OPENING = "opening", "Opening count, provenance unknown"

    class DateKind(models.TextChoices):
        EXPIRY = "expiry", "Expiry"
        RETEST = "retest", "Retest"

    code = models.CharField(max_length=20, editable=False)
    ingredient = models.ForeignKey(
        "formulas.Ingredient", on_delete=models.PROTECT, null=True, blank=True, related_name="lots"
    )
    article = models.ForeignKey(
        "formulas.Article", on_delete=models.PROTECT, null=True, blank=True, related_name="lots"
    )
    rework_of = models.ForeignKey(
        "formulas.Formula", on_delete=models.PROTECT, null=True, blank=True, related_name="rework_lots"
    )
    unit = models.CharField(max_length=6, choices=Unit.choices)
    source = models.ForeignKey(
        "formulas.Source", on_delete=models.PROTECT, null=True, blank=True, related_name="lots"
    )
    composition = models.ForeignKey(
        "formulas.Composition", on_delete=models.PROTECT, null=True, blank=True, related_name="lots"
    )
    origin = models.CharField(max_length=8, choices=Origin.choices)
    delivery = models.ForeignKey(
        Delivery, on_delete=models.PROTECT, null=True, blank=True, related_name="lots"
    )
    from_batch = models.ForeignKey(
        "batches.Batch", on_delete=models.PROTECT, null=True, blank=True, related_name="made_lots"
    )
    supplier_lot = models.CharField(max_length=60, blank=True, help_text="Empty: not given.")
    entered_amount = models.CharField(max_length=40, help_text="As typed.")
    entered_unit = models.CharField(max_length=12)
    received_on = models.DateField()
    opened_on = models.DateField(null=True, blank=True)
    good_until = models.DateField(null=True, blank=True)
    date_kind = models.CharField(max_length=6, choices=DateKind.choices, default=DateKind.EXPIRY)
    status = models.CharField(max_length=10, choices=LotStatus.choices, default=LotStatus.QUARANTINE)
    held = models.BooleanField(default=False, editable=False, help_text="Has an open hold.")
    cost = MoneyField(null=True, blank=True, help_text="For the whole lot.")
    currency = models.CharField(max_length=3, blank=True)
    on_hand = GramsField(default=0, editable=False)
    note = models.TextField(blank=True)

    objects = LotQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(fields=["maker", "code"], name="lot_code_once"),
            models.CheckConstraint(
                name="lot_on_hand_range",
                condition=Q(on_hand__gte=0, on_hand__lte=1_000_000_000),
                violation_error_message="A lot never holds less than nothing.",
            ),
            models.CheckConstraint(
                name="lot_of_one_thing",
                condition=Q(ingredient__isnull=False, article__isnull=True, rework_of__isnull=True, unit="g")
                | Q(ingredient__isnull=True, article__isnull=False, rework_of__isnull=True, unit="pieces")
                | Q(ingredient__isnull=True, article__isnull=True, rework_of__isnull=False, unit="g"),
            ),
            models.CheckConstraint(
                name="lot_origin",
                condition=Q(origin="delivery", delivery__isnull=False, from_batch__isnull=True)
                | Q(origin="batch", delivery__isnull=True, from_batch__isnull=False)
                | Q(origin="opening", delivery__isnull=True, from_batch__isnull=True),
            ),
        ]
        indexes = [
            models.Index(fields=["maker", "-id"], name="lot_newest"),
            models.Index(fields=["maker", "good_until"], name="lot_good_until"),
            models.Index(fields=["maker", "supplier_lot"], name="lot_supplier_lot"),
        ]

    def __str__(self) -> str:
        return self.code

    def facts(self, causes: Iterable[str] = ()) -> LotFacts:
        """The lot as the rules take it. causes: of its open holds, oldest first."""
        return LotFacts(
            status=self.status,
            on_hand=self.on_hand,
            good_until=self.good_until,
            date_kind=self.date_kind,
            causes=tuple(causes),
            held=self.held,
        )


class LotEntry(Event):
    """One line of the stock ledger; ``amount`` is signed, in the lot's unit."""

    class Kind(models.TextChoices):
        RECEIVED = "received", "Received"
        MADE = "made", "Made"
        OPENING = "opening", "Counted in"
        WEIGHED = "weighed", "Weighed into a batch"
        COUNTED = "counted", "Counted"
        WASTED = "wasted", "Wasted"
        SAMPLED = "sampled", "Sampled"
        RETURNED = "returned", "Sent back"
        PACKED = "packed", "Packed"
        REVERSED = "reversed", "Taken back"

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    amount = GramsField()
    counted = GramsField(null=True, blank=True, help_text="What a count found, for kind counted.")
    batch = models.ForeignKey(
        "batches.Batch", on_delete=models.PROTECT, null=True, blank=True, related_name="lot_entries"
    )
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )
    why = models.TextField(blank=True)

    objects = LotEntryQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "lot entries"
        constraints = [
            models.CheckConstraint(
                name="lotentry_range", condition=Q(amount__gte=-1_000_000_000, amount__lte=1_000_000_000)
            ),
            models.UniqueConstraint(
                fields=["maker", "entry_key"], condition=Q(entry_key__isnull=False), name="lotentry_key_once"
            ),
        ]


class LotDecision(Event):
    """A lot's status changed: from, to, and on what basis."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="decisions")
    was = models.CharField(max_length=10, choices=LotStatus.choices)
    became = models.CharField(max_length=10, choices=LotStatus.choices)
    basis = models.TextField()
    document = models.ForeignKey(
        "makers.Document", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]


class Retest(Event):
    """A test that moves a lot's date."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="retests")
    was = models.DateField(null=True, blank=True)
    became = models.DateField()
    basis = models.TextField()
    document = models.ForeignKey(
        "makers.Document", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]


class Hold(MakerRecord):
    """A stop on a lot, batch or pack until someone judges; closing it is written on the same row once."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, null=True, blank=True, related_name="holds")
    batch = models.ForeignKey(
        "batches.Batch", on_delete=models.PROTECT, null=True, blank=True, related_name="holds"
    )
    pack = models.ForeignKey(
        "batches.Pack", on_delete=models.PROTECT, null=True, blank=True, related_name="holds"
    )
    cause = models.TextField()
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey("makers.User", on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        "makers.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    closed_why = models.TextField(blank=True)

    objects = HoldQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                name="hold_on_one_thing",
                condition=Q(lot__isnull=False, batch__isnull=True, pack__isnull=True)
                | Q(lot__isnull=True, batch__isnull=False, pack__isnull=True)
                | Q(lot__isnull=True, batch__isnull=True, pack__isnull=False),
            ),
            models.CheckConstraint(
                name="hold_closed_whole",
                condition=Q(closed_at__isnull=True, closed_by__isnull=True)
                | Q(closed_at__isnull=False, closed_by__isnull=False),
            ),
        ]
        indexes = [models.Index(fields=["maker"], condition=Q(closed_at__isnull=True), name="hold_open")]
