"""Formulas in percent: versions, phases, lines, steps; articles and products."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from makers.models import MakerQuerySet, MakerRecord, MoneyField, NumberField, PercentField
from makers.models.fields import GramsField


class ProductKind(models.TextChoices):
    """Whether a product stays on the skin."""

    LEAVE_ON = "leave-on", "Leave-on"
    RINSE_OFF = "rinse-off", "Rinse-off"


class BodyArea(models.TextChoices):
    """Where a product is used."""

    BODY = "body", "Body"
    HANDS = "hands", "Hands"
    FACE = "face", "Face"
    EYES = "eyes", "Around the eyes"
    LIPS = "lips", "Lips"
    HAIR = "hair", "Hair and scalp"
    BATH = "bath", "Bath"
    UNKNOWN = "unknown", "Unknown"


class ProductForm(models.TextChoices):
    """What a product is made as."""

    BALM = "balm", "Balm"
    BAR = "bar", "Bar"
    SCRUB = "scrub", "Scrub"
    CREAM = "cream", "Cream or lotion"
    OIL = "oil", "Oil"
    BATH = "bath", "Bath goods"
    LIQUID = "liquid", "Liquid or gel"
    INFUSION = "infusion", "Infusion"
    PREMIX = "premix", "Premix"
    OTHER = "other", "Other"


class Formula(MakerRecord):
    """What a product is made to: a name over numbered versions."""

    code = models.CharField(max_length=20, editable=False)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=12, choices=ProductKind.choices)
    body_area = models.CharField(max_length=10, choices=BodyArea.choices, default=BodyArea.UNKNOWN)
    form = models.CharField(max_length=12, choices=ProductForm.choices)
    used_in_water = models.BooleanField(default=False)
    perfume_category = models.CharField(
        "product category of perfume certificates", max_length=4, blank=True, help_text="5A say."
    )
    parent = models.ForeignKey(
        "formulas.FormulaVersion", on_delete=models.PROTECT, null=True, blank=True, related_name="variants"
    )
    note = models.TextField(blank=True)
    read_from = models.TextField(
        blank=True, editable=False, help_text="The recipe it was read from, as it stood."
    )
    active = models.BooleanField(default=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "name"],
                name="formula_name_once",
                violation_error_code="name_taken",
                violation_error_message=(
                    "There is a formula of that name already. Give this one another name, or use that one."
                ),
            ),
            models.UniqueConstraint(fields=["maker", "code"], name="formula_code_once"),
        ]

    def __str__(self) -> str:
        return self.name


class FormulaVersion(MakerRecord):
    """One state of a formula. Frozen once approved or used."""

    class State(models.TextChoices):
        DRAFT = "draft", "Draft"
        APPROVED = "approved", "Approved"
        WITHDRAWN = "withdrawn", "Withdrawn"

    formula = models.ForeignKey(Formula, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=10, choices=State.choices, default=State.DRAFT)
    note = models.TextField(blank=True)
    ph_low = NumberField("made to pH, from", null=True, blank=True)
    ph_high = NumberField("made to pH, to", null=True, blank=True)
    made_at = models.DateTimeField()
    approved_at = models.DateTimeField(null=True, blank=True)
    approved_by = models.ForeignKey(
        "makers.User", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    approved_despite = models.JSONField(
        default=list, blank=True, help_text="Stops at approval with the reason given."
    )
    frozen_at = models.DateTimeField(null=True, blank=True, editable=False)
    edit = models.PositiveIntegerField(default=0, help_text="Counts saves, so that a stale form is noticed.")

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["formula", "number"], name="version_number_once"),
            models.CheckConstraint(
                name="version_ph_range",
                condition=(Q(ph_low__isnull=True) | Q(ph_low__gte=0, ph_low__lte=14))
                & (Q(ph_high__isnull=True) | Q(ph_high__gte=0, ph_high__lte=14)),
                violation_error_message="pH runs from 0 to 14.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.formula}, version {self.number}"

    @property
    def is_frozen(self) -> bool:
        """Nothing in this version changes any more."""
        return self.frozen_at is not None


class VersionEdit(MakerRecord):
    """A draft as it stood after one save, so that it can be gone back to. restores: the edit it brought back."""

    version = models.ForeignKey(FormulaVersion, on_delete=models.CASCADE, related_name="edits")
    edit = models.PositiveIntegerField()
    restores = models.PositiveIntegerField(null=True, blank=True)
    content = models.JSONField()
    at = models.DateTimeField()
    user = models.ForeignKey("makers.User", on_delete=models.PROTECT, null=True, related_name="+")

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-edit"]
        constraints = [models.UniqueConstraint(fields=["version", "edit"], name="versionedit_once")]


class Phase(MakerRecord):
    """A part of a formula that is prepared together."""

    version = models.ForeignKey(FormulaVersion, on_delete=models.CASCADE, related_name="phases")
    letter = models.CharField(max_length=3)
    name = models.CharField(max_length=80, blank=True)
    position = models.PositiveSmallIntegerField()

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["position", "id"]
        constraints = [models.UniqueConstraint(fields=["version", "letter"], name="phase_letter_once")]

    def __str__(self) -> str:
        return f"{self.letter} {self.name}".strip()


class Line(MakerRecord):
    """One ingredient in a formula: a percent, "to 100", or as needed within a range."""

    class Kind(models.TextChoices):
        PERCENT = "percent", "Percent"
        TO_100 = "to_100", "To 100"
        ADJUST = "adjust", "As needed to pH"

    version = models.ForeignKey(FormulaVersion, on_delete=models.CASCADE, related_name="lines")
    phase = models.ForeignKey(Phase, on_delete=models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    ingredient = models.ForeignKey("formulas.Ingredient", on_delete=models.PROTECT, related_name="lines")
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.PERCENT)
    percent = PercentField(null=True, blank=True)
    adjust_low = PercentField("from, %", null=True, blank=True)
    adjust_high = PercentField("to at most, %", null=True, blank=True)
    ph_low = NumberField("pH from", null=True, blank=True)
    ph_high = NumberField("pH to", null=True, blank=True)
    purpose = models.CharField(max_length=40, blank=True, help_text="What it does here.")
    strained = models.BooleanField("strained out", default=False)
    leaves = models.ForeignKey(
        "formulas.Substance", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["phase__position", "position", "id"]
        constraints = [
            models.CheckConstraint(
                name="line_percent_range",
                condition=Q(kind="percent", percent__gt=0, percent__lte=100)
                | Q(kind="to_100", percent__isnull=True)
                | Q(
                    kind="adjust",
                    percent__isnull=True,
                    adjust_low__gte=0,
                    adjust_high__gt=0,
                    adjust_high__lte=100,
                ),
                violation_error_message="A percent is above 0 and at most 100.",
            ),
            models.UniqueConstraint(
                fields=["version"],
                condition=Q(kind="to_100"),
                name="line_one_to_100",
                violation_error_message="Only one line can be “to 100”.",
            ),
        ]


class Step(MakerRecord):
    """One thing to do, with its temperature gate and time."""

    version = models.ForeignKey(FormulaVersion, on_delete=models.CASCADE, related_name="steps")
    phase = models.ForeignKey(Phase, on_delete=models.CASCADE, null=True, blank=True, related_name="steps")
    position = models.PositiveSmallIntegerField()
    text = models.TextField()
    target_c = NumberField("target, °C", null=True, blank=True)
    min_c = NumberField("at least, °C", null=True, blank=True)
    max_c = NumberField("at most, °C", null=True, blank=True)
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["position", "id"]
        constraints = [
            models.CheckConstraint(
                name="step_temperature_range",
                condition=(Q(target_c__isnull=True) | Q(target_c__gte=-40, target_c__lte=300))
                & (Q(min_c__isnull=True) | Q(min_c__gte=-40, min_c__lte=300))
                & (Q(max_c__isnull=True) | Q(max_c__gte=-40, max_c__lte=300)),
                violation_error_message="A temperature lies between −40 and 300 °C.",
            )
        ]


class Article(MakerRecord):
    """A jar, lid, label stock or box: counted, not weighed."""

    class Kind(models.TextChoices):
        CONTAINER = "container", "Container"
        CLOSURE = "closure", "Lid or closure"
        LABEL = "label", "Label stock"
        BOX = "box", "Box or wrap"
        OTHER = "other", "Other"

    code = models.CharField(max_length=20, editable=False)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.CONTAINER)
    low_stock = models.PositiveIntegerField(null=True, blank=True)
    note = models.TextField(blank=True)
    active = models.BooleanField(default=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "name"],
                name="article_name_once",
                violation_error_code="name_taken",
                violation_error_message=(
                    "There is an article of that name already. Give this one another name, or use that one."
                ),
            ),
            models.UniqueConstraint(fields=["maker", "code"], name="article_code_once"),
        ]

    def __str__(self) -> str:
        return self.name


class Product(MakerRecord):
    """A formula sold in one net quantity and container with its parts."""

    class Unit(models.TextChoices):
        G = "g", "g"
        ML = "ml", "ml"
        OZ = "oz", "oz"
        FL_OZ = "fl oz", "fl oz"

    class Shape(models.TextChoices):
        ROUND_TIN = "round tin", "Round tin, label on the lid"
        CYLINDER = "cylinder", "Jar, bottle or tube"
        BOX = "box", "Box or carton"
        WRAP = "wrap", "Bar in a wrap"
        OTHER = "other", "Other"

    code = models.CharField(max_length=20, editable=False)
    formula = models.ForeignKey(Formula, on_delete=models.PROTECT, related_name="products")
    name = models.CharField(max_length=120)
    net_amount = NumberField("net quantity")
    net_unit = models.CharField(max_length=5, choices=Unit.choices, default=Unit.G)
    fill_g = GramsField("fill weight, g")
    shape = models.CharField(max_length=12, choices=Shape.choices, default=Shape.CYLINDER)
    width_mm = NumberField("width or diameter, mm", null=True, blank=True)
    height_mm = NumberField("height, mm", null=True, blank=True)
    depth_mm = NumberField("depth, mm", null=True, blank=True)
    life_months = models.PositiveSmallIntegerField("keeps, months", null=True, blank=True)
    pao_months = models.PositiveSmallIntegerField("after opening, months", null=True, blank=True)
    markets = models.JSONField(default=list, blank=True)
    identity = models.CharField("what it is", max_length=120, blank=True, help_text="Body balm, hand cream…")
    directions = models.TextField(blank=True)
    not_above_c = NumberField("not sold or sent above, °C", null=True, blank=True)
    price = MoneyField(null=True, blank=True)
    active = models.BooleanField(default=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "name"],
                name="product_name_once",
                violation_error_code="name_taken",
                violation_error_message=(
                    "There is a product of that name already. Give this one another name, or use that one."
                ),
            ),
            models.UniqueConstraint(fields=["maker", "code"], name="product_code_once"),
            models.CheckConstraint(
                name="product_net_range",
                condition=Q(net_amount__gt=0, net_amount__lte=100_000, fill_g__gt=0, fill_g__lte=1_000_000),
                violation_error_message="A net quantity is above 0.",
            ),
            models.CheckConstraint(
                name="product_heat_range",
                condition=Q(not_above_c__isnull=True) | Q(not_above_c__gte=-20, not_above_c__lte=60),
                violation_error_message="A day is between −20 and 60 °C.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ProductPart(MakerRecord):
    """An article that each pack of a product takes."""

    product = models.ForeignKey(Product, on_delete=models.CASCADE, related_name="parts")
    article = models.ForeignKey(Article, on_delete=models.PROTECT, related_name="parts")
    count = models.PositiveSmallIntegerField(default=1)

    objects = MakerQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["product", "article"],
                name="productpart_once",
                violation_error_code="article_taken",
                violation_error_message=(
                    "Each pack takes that article already. Change how many it takes instead."
                ),
            )
        ]
