"""Batches: plan, lines, weighings, readings, fills, checks, deviations, outputs, release, amendments."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from makers.models import Event, MakerQuerySet, MakerRecord, NumberField, PercentField
from makers.models.fields import GramsField


class Batch(MakerRecord):
    """One execution of a formula version, for trial or for sale."""

    class Purpose(models.TextChoices):
        SALE = "sale", "For sale"
        TRIAL = "trial", "Trial, never sold"
        STOCK = "stock", "Ingredient made in-house"

    class State(models.TextChoices):
        PLANNED = "planned", "Planned"
        MAKING = "making", "Making"
        MADE = "made", "Made"
        RELEASED = "released", "Released"
        REJECTED = "rejected", "Rejected"

    code = models.CharField(max_length=20, editable=False)
    purpose = models.CharField(max_length=6, choices=Purpose.choices)
    version = models.ForeignKey("formulas.FormulaVersion", on_delete=models.PROTECT, related_name="batches")
    formula = models.ForeignKey("formulas.Formula", on_delete=models.PROTECT, related_name="batches")
    product = models.ForeignKey(
        "formulas.Product", on_delete=models.PROTECT, null=True, blank=True, related_name="batches"
    )
    makes = models.ForeignKey(
        "formulas.Ingredient", on_delete=models.PROTECT, null=True, blank=True, related_name="batches"
    )
    state = models.CharField(max_length=10, choices=State.choices, default=State.PLANNED)
    held = models.BooleanField(default=False, editable=False, help_text="Has an open hold.")
    scale = models.ForeignKey("makers.Scale", on_delete=models.PROTECT, related_name="+")
    planned_for = models.DateField(null=True, blank=True)
    units = models.PositiveIntegerField(null=True, blank=True)
    fill_g = GramsField(null=True, blank=True)
    samples_g = GramsField(default=0)
    loss_percent = PercentField(default=0)
    planned_g = GramsField()
    started_at = models.DateTimeField(null=True, blank=True)
    made_on = models.DateField(null=True, blank=True)
    made_at = models.DateTimeField(null=True, blank=True)
    bulk_g = GramsField("bulk obtained, g", null=True, blank=True)
    best_before = models.DateField(null=True, blank=True)
    best_before_why = models.TextField(blank=True)
    planned_by = models.ForeignKey("makers.User", on_delete=models.PROTECT, related_name="+")
    planned_at = models.DateTimeField()
    note = models.TextField(blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        verbose_name_plural = "batches"
        constraints = [
            models.UniqueConstraint(fields=["maker", "code"], name="batch_code_once"),
            models.CheckConstraint(
                name="batch_bounds",
                condition=Q(planned_g__gt=0, planned_g__lte=10_000_000)
                & Q(samples_g__gte=0)
                & Q(loss_percent__gte=0, loss_percent__lt=100)
                & (Q(fill_g__isnull=True) | Q(fill_g__gt=0))
                & (Q(bulk_g__isnull=True) | Q(bulk_g__gte=0, bulk_g__lte=10_000_000)),
                violation_error_message="A batch weighs more than 0 g; a loss is from 0 to under 100 %%.",
            ),
        ]
        indexes = [models.Index(fields=["maker", "-id"], name="batch_newest")]

    def __str__(self) -> str:
        return self.code

    @property
    def is_closed(self) -> bool:
        """Released or rejected: only notes, packing, dispatches, complaints and amendments follow."""
        return self.state in (self.State.RELEASED, self.State.REJECTED)


class BatchLine(MakerRecord):
    """What is to go in: a snapshot of the formula's line, a substitute, an adjustment or rework."""

    class Kind(models.TextChoices):
        FORMULA = "formula", "Formula"
        SUBSTITUTE = "substitute", "Substitute"
        ADJUST = "adjust", "As needed"
        REWORK = "rework", "Rework"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.FORMULA)
    phase = models.CharField(max_length=3, blank=True)
    phase_name = models.CharField(max_length=80, blank=True)
    ingredient = models.ForeignKey(
        "formulas.Ingredient", on_delete=models.PROTECT, null=True, blank=True, related_name="batch_lines"
    )
    rework_lot = models.ForeignKey(
        "batches.Lot", on_delete=models.PROTECT, null=True, blank=True, related_name="rework_lines"
    )
    instead_of = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    percent = PercentField(null=True, blank=True)
    planned_g = GramsField(null=True, blank=True)
    low_g = GramsField(null=True, blank=True, help_text="Adjust lines: from.")
    high_g = GramsField(null=True, blank=True, help_text="Adjust lines: at most.")
    tolerance_g = GramsField(default=0)
    purpose = models.CharField(max_length=40, blank=True)
    why = models.TextField(blank=True, help_text="Why a substitute or rework.")

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["position", "id"]
        constraints = [
            models.CheckConstraint(
                name="batchline_bounds",
                condition=(Q(planned_g__isnull=True) | Q(planned_g__gte=0, planned_g__lte=10_000_000))
                & Q(tolerance_g__gte=0),
            ),
            models.CheckConstraint(
                name="batchline_of_one_thing",
                condition=Q(kind="rework", rework_lot__isnull=False, ingredient__isnull=True)
                | (~Q(kind="rework") & Q(rework_lot__isnull=True, ingredient__isnull=False)),
            ),
        ]


class BatchStep(MakerRecord):
    """A snapshot of the formula's step."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="steps")
    position = models.PositiveSmallIntegerField()
    phase = models.CharField(max_length=3, blank=True)
    text = models.TextField()
    target_c = NumberField(null=True, blank=True)
    min_c = NumberField(null=True, blank=True)
    max_c = NumberField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["position", "id"]


class Weighing(Event):
    """Grams of one lot into one batch line. A mistake is taken back by a further weighing."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="weighings")
    line = models.ForeignKey(BatchLine, on_delete=models.PROTECT, related_name="weighings")
    lot = models.ForeignKey("batches.Lot", on_delete=models.PROTECT, related_name="weighings")
    grams = GramsField()
    scale = models.ForeignKey("makers.Scale", on_delete=models.PROTECT, related_name="+")
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )
    why = models.TextField(blank=True, help_text="Why another lot, or why outside the tolerance.")

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                name="weighing_sign",
                condition=Q(reverses__isnull=True, grams__gt=0, grams__lte=10_000_000)
                | Q(reverses__isnull=False, grams__lt=0, grams__gte=-10_000_000),
                violation_error_message="A weighing is above 0 g.",
            ),
            models.UniqueConstraint(
                fields=["maker", "entry_key"], condition=Q(entry_key__isnull=False), name="weighing_key_once"
            ),
        ]
        indexes = [models.Index(fields=["lot", "batch"], name="weighing_lot_batch")]


class Reading(Event):
    """A measured value with its conditions; useless without them, so both are asked."""

    class Kind(models.TextChoices):
        TEMPERATURE = "temperature", "Temperature"
        PH = "pH", "pH"
        ROOM = "room", "Room temperature"
        VISCOSITY = "viscosity", "Viscosity"
        OTHER = "other", "Other"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="readings")
    step = models.ForeignKey(
        BatchStep, on_delete=models.PROTECT, null=True, blank=True, related_name="readings"
    )
    kind = models.CharField(max_length=12, choices=Kind.choices)
    value = NumberField()
    unit = models.CharField(max_length=12, blank=True)
    conditions = models.CharField(max_length=200, blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["occurred_at", "id"]
        constraints = [
            models.CheckConstraint(
                name="reading_bounds", condition=Q(value__gte=-1000, value__lte=10_000_000)
            ),
            models.UniqueConstraint(
                fields=["maker", "entry_key"], condition=Q(entry_key__isnull=False), name="reading_key_once"
            ),
        ]


class Fill(Event):
    """The net weight of one filled container."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="fills")
    product = models.ForeignKey("formulas.Product", on_delete=models.PROTECT, related_name="+")
    net_g = GramsField()

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(name="fill_bounds", condition=Q(net_g__gt=0, net_g__lte=1_000_000)),
            models.UniqueConstraint(
                fields=["maker", "entry_key"], condition=Q(entry_key__isnull=False), name="fill_key_once"
            ),
        ]


class Check(Event):
    """Something looked at: a start check, a step done, how it looks and feels."""

    class Kind(models.TextChoices):
        START = "start", "Before the start"
        STEP = "step", "Step done"
        LOOK = "look", "Look and feel"
        OTHER = "other", "Other"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="checks")
    step = models.ForeignKey(
        BatchStep, on_delete=models.PROTECT, null=True, blank=True, related_name="checks"
    )
    kind = models.CharField(max_length=8, choices=Kind.choices)
    question = models.CharField(max_length=200)
    passed = models.BooleanField(default=True)
    note = models.TextField(blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]


class Deviation(Event):
    """Something went otherwise than written."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="deviations")
    line = models.ForeignKey(
        BatchLine, on_delete=models.PROTECT, null=True, blank=True, related_name="deviations"
    )
    text = models.TextField()

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]


class DeviationJudgement(Event):
    """What a deviation means for the batch."""

    deviation = models.OneToOneField(Deviation, on_delete=models.PROTECT, related_name="judgement")
    accepted = models.BooleanField()
    text = models.TextField()

    objects = MakerQuerySet.as_manager()


class Output(Event):
    """What a batch yielded, in grams; packs also in units. Corrected by a reversing row."""

    class Kind(models.TextChoices):
        PACKS = "packs", "Filled into packs"
        LOT = "lot", "Ingredient lot"
        REWORK = "rework", "Set aside as rework"
        SAMPLE = "sample", "Samples of the bulk"
        WASTE = "waste", "Process waste, before the bulk"
        FILL_LOSS = "fill_loss", "Lost in filling"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="outputs")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    grams = GramsField()
    units = models.IntegerField(null=True, blank=True)
    product = models.ForeignKey(
        "formulas.Product", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    lot = models.ForeignKey("batches.Lot", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    pack = models.ForeignKey(
        "batches.Pack", on_delete=models.PROTECT, null=True, blank=True, related_name="outputs"
    )
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )
    note = models.TextField(blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                name="output_sign",
                condition=Q(reverses__isnull=True, grams__gte=0, grams__lte=10_000_000)
                | Q(reverses__isnull=False, grams__lte=0, grams__gte=-10_000_000),
            ),
            models.UniqueConstraint(
                fields=["maker", "entry_key"], condition=Q(entry_key__isnull=False), name="output_key_once"
            ),
        ]


class RetainedSample(MakerRecord):
    """Units or grams kept back to look at later."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="retained")
    pack = models.ForeignKey(
        "batches.Pack", on_delete=models.PROTECT, null=True, blank=True, related_name="retained"
    )
    units = models.PositiveIntegerField(default=0)
    grams = GramsField(null=True, blank=True)
    where = models.CharField(max_length=120, blank=True)
    keep_until = models.DateField(null=True, blank=True)
    kept_at = models.DateTimeField()
    user = models.ForeignKey("makers.User", on_delete=models.PROTECT, related_name="+")

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]


class Amendment(Event):
    """A signed change to a batch after its release; voids the release until it is given again."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="amendments")
    what = models.TextField()
    why = models.TextField()

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]


class Release(Event):
    """The signed decision on a batch: released or rejected, over the digest of its content."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="releases")
    decision = models.CharField(max_length=10, choices=[("released", "Released"), ("rejected", "Rejected")])
    reasons = models.TextField(blank=True)
    open_points = models.JSONField(default=list, help_text="What stood open and was accepted with a reason.")
    meaning = models.CharField(max_length=120)
    content_digest = models.CharField(max_length=64)
    self_reviewed = models.BooleanField(default=False, help_text="One person made and judged it.")
    after_amendment = models.BigIntegerField(
        default=0, help_text="Key of the last amendment that it takes in; 0 for none."
    )

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]


class BatchNote(Event):
    """A remark on a batch, allowed at any time."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="remarks")
    text = models.TextField()

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
