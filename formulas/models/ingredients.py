"""Substances, suppliers, ingredients, what suppliers sell, and what is in it."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from formulas.querysets import IngredientQuerySet
from makers.models import MakerQuerySet, MakerRecord, MoneyField, NumberField, PercentField, Record
from makers.models.fields import GramsField


class Basis(models.TextChoices):
    """How a fact is known."""

    READ = "read", "Read in the source named"
    SUPPLIER = "supplier", "Supplier's document"
    CONFIRMED = "confirmed", "Confirmed by the maker"
    MEMORY = "memory", "From memory, to be confirmed"


class SubstanceQuerySet(models.QuerySet["Substance"]):
    """Words for asking about substances."""

    def known_to(self, maker: models.Model) -> SubstanceQuerySet:
        """Shared reference rows and the maker's own."""
        return self.filter(Q(maker=None) | Q(maker=maker))


class Substance(Record):
    """A chemical or botanical identity. Rows without a maker are shared reference, from the data files."""

    maker = models.ForeignKey(
        "makers.Maker", on_delete=models.PROTECT, related_name="+", null=True, blank=True, editable=False
    )
    key = models.SlugField(max_length=120, editable=False)
    inci_name = models.CharField("INCI name", max_length=200)
    us_name = models.CharField("US label name", max_length=200, blank=True)
    cas = models.CharField("CAS number", max_length=200, blank=True)
    is_colourant = models.BooleanField(default=False)
    is_perfume = models.BooleanField(default=False, help_text="A fragrance material, declared as perfume.")
    is_flavour = models.BooleanField(default=False)
    is_nano = models.BooleanField(default=False)
    function = models.CharField(max_length=80, blank=True)
    source = models.TextField(blank=True)
    basis = models.CharField(max_length=12, choices=Basis.choices, default=Basis.MEMORY)
    edition = models.CharField(max_length=40, blank=True)

    objects = SubstanceQuerySet.as_manager()

    class Meta:
        ordering = ["inci_name", "id"]
        constraints = [
            models.UniqueConstraint(fields=["maker", "key"], name="substance_once"),
            models.UniqueConstraint(fields=["key"], condition=Q(maker=None), name="substance_reference_once"),
        ]

    def __str__(self) -> str:
        return self.inci_name


class SubstanceName(MakerRecord):
    """What a maker prints for a substance in one market; goes before the name of the reference row."""

    substance = models.ForeignKey(Substance, on_delete=models.PROTECT, related_name="names")
    market = models.CharField(max_length=2)
    name = models.CharField(max_length=200)
    basis = models.CharField(max_length=12, choices=Basis.choices, default=Basis.CONFIRMED)
    source = models.TextField("where it was looked up", blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["substance__inci_name", "market"]
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "substance", "market"],
                name="substancename_once",
                violation_error_message="That substance has a name for this market. Change that one.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.market})"


class Supplier(MakerRecord):
    """Who sells to the maker."""

    name = models.CharField(max_length=120)
    country = models.CharField(max_length=2, blank=True)
    contact = models.TextField(blank=True)
    active = models.BooleanField(default=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "name"],
                name="supplier_name_once",
                violation_error_code="name_taken",
                violation_error_message=(
                    "There is a supplier of that name already. Give this one another name, or use that one."
                ),
            )
        ]

    def __str__(self) -> str:
        return self.name


class Form(models.TextChoices):
    """What a raw material is like at 20 C."""

    HARD_SOLID = "hard solid", "Hard solid"
    SOFT_SOLID = "soft solid", "Soft solid"
    LIQUID = "liquid", "Liquid"
    POWDER = "powder", "Powder"
    GRANULES = "granules", "Granules or flakes"
    UNKNOWN = "unknown", "Unknown"


class Solubility(models.TextChoices):
    """In what a raw material dissolves."""

    WATER = "water", "Water"
    OIL = "oil", "Oil"
    ALCOHOL = "alcohol", "Alcohol or glycol"
    BOTH = "water and oil", "Water and oil"
    DISPERSIBLE = "dispersible in water", "Dispersible in water"
    INSOLUBLE = "insoluble", "Insoluble"
    UNKNOWN = "unknown", "Unknown"


class DensityKind(models.TextChoices):
    """What a density figure means; only liquid and melt turn volume into mass."""

    LIQUID = "liquid", "Liquid at 20 °C"
    MELT = "melt", "Melt"
    SOLID = "solid", "Solid"
    BULK = "bulk", "Bulk, loose powder"


ROLES = (
    "emollient",
    "butter",
    "wax",
    "emulsifier",
    "thickener",
    "solvent",
    "humectant",
    "surfactant",
    "preservative",
    "antioxidant",
    "chelating",
    "pH",
    "perfume",
    "flavour",
    "colour",
    "exfoliant",
    "absorbent",
    "active",
    "extract",
    "base",
    "unknown",
)


class Ingredient(MakerRecord):
    """A raw material as used in formulas, bought or made in-house."""

    code = models.CharField(max_length=20, editable=False)
    name = models.CharField(max_length=120)
    common_name = models.CharField(max_length=160, blank=True)
    roles = models.JSONField(default=list, blank=True)
    form = models.CharField(max_length=20, choices=Form.choices, default=Form.UNKNOWN)
    soluble_in = models.CharField(max_length=24, choices=Solubility.choices, default=Solubility.UNKNOWN)
    solubility_note = models.CharField(max_length=200, blank=True)
    density_g_ml = NumberField("density, g/ml", null=True, blank=True)
    density_kind = models.CharField(max_length=10, choices=DensityKind.choices, blank=True)
    melting_low_c = NumberField("melts from, °C", null=True, blank=True)
    melting_high_c = NumberField("clear melt at, °C", null=True, blank=True)
    add_below_c = NumberField("add at or below, °C", null=True, blank=True)
    ph_low = NumberField("pH from", null=True, blank=True)
    ph_high = NumberField("pH to", null=True, blank=True)
    dietary_source = models.CharField(
        "dietary allergen source", max_length=120, blank=True, help_text="Nut, sesame, soy, wheat, milk, bee…"
    )
    hlb = NumberField("HLB, of an emulsifier", null=True, blank=True)
    hlb_required = NumberField("required HLB, of an oil", null=True, blank=True)
    shelf_life_months = models.PositiveSmallIntegerField(null=True, blank=True)
    is_perfume = models.BooleanField("counts as perfume", default=False)
    made_from = models.ForeignKey(
        "formulas.Formula", on_delete=models.PROTECT, null=True, blank=True, related_name="makes"
    )
    low_stock_g = GramsField("low-stock level, g", null=True, blank=True)
    note = models.TextField(blank=True)
    active = models.BooleanField(default=True)
    facts = models.JSONField(
        default=dict, editable=False, help_text="By field: basis, source, confirmed by and at."
    )

    objects = IngredientQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "name"],
                name="ingredient_name_once",
                violation_error_code="name_taken",
                violation_error_message=(
                    "There is an ingredient of that name already. "
                    "Give this one another name, or use that one."
                ),
            ),
            models.UniqueConstraint(fields=["maker", "code"], name="ingredient_code_once"),
            models.CheckConstraint(
                name="ingredient_density_range",
                condition=Q(density_g_ml__isnull=True) | Q(density_g_ml__gt=0, density_g_ml__lte=25),
                violation_error_message="A density is above 0 and at most 25 g/ml.",
            ),
            models.CheckConstraint(
                name="ingredient_ph_range",
                condition=(Q(ph_low__isnull=True) | Q(ph_low__gte=0, ph_low__lte=14))
                & (Q(ph_high__isnull=True) | Q(ph_high__gte=0, ph_high__lte=14)),
                violation_error_message="pH runs from 0 to 14.",
            ),
            models.CheckConstraint(
                name="ingredient_hlb_range",
                condition=(Q(hlb__isnull=True) | Q(hlb__gte=0, hlb__lte=40))
                & (Q(hlb_required__isnull=True) | Q(hlb_required__gte=0, hlb_required__lte=40)),
                violation_error_message="An HLB lies between 0 and 40.",
            ),
            models.CheckConstraint(
                name="ingredient_low_stock_range",
                condition=Q(low_stock_g__isnull=True) | Q(low_stock_g__gte=0, low_stock_g__lte=100_000_000),
                violation_error_message="The low-stock level is 0 g or more.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Source(MakerRecord):
    """One supplier's article of an ingredient."""

    ingredient = models.ForeignKey(Ingredient, on_delete=models.PROTECT, related_name="sources")
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="sources")
    article_code = models.CharField(max_length=60, blank=True)
    name = models.CharField(max_length=160, blank=True, help_text="As the supplier calls it.")
    preferred = models.BooleanField(default=False)
    active = models.BooleanField(default=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-preferred", "supplier__name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["ingredient", "supplier", "article_code"],
                name="source_once",
                violation_error_code="article_code_taken",
                violation_error_message=(
                    "That article of this supplier is already here. "
                    "Use it, or write the code of another article."
                ),
            )
        ]

    def __str__(self) -> str:
        return f"{self.supplier} {self.article_code}".strip()


class Price(MakerRecord):
    """What a source cost on a day."""

    source = models.ForeignKey(Source, on_delete=models.PROTECT, related_name="prices")
    on = models.DateField()
    amount = MoneyField()
    currency = models.CharField(max_length=3)
    pack_g = GramsField("pack, g")

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-on", "-id"]
        constraints = [
            models.CheckConstraint(
                name="price_bounds",
                condition=Q(amount__gte=0, pack_g__gt=0, pack_g__lte=100_000_000),
                violation_error_message="A price is 0 or more, for a pack above 0 g.",
            )
        ]


class UseLevel(MakerRecord):
    """How much of an ingredient belongs in a kind of product, and who says so."""

    class Kind(models.TextChoices):
        ANY = "any", "Any product"
        LEAVE_ON = "leave-on", "Leave-on"
        RINSE_OFF = "rinse-off", "Rinse-off"
        BATH = "bath", "Bath goods"

    ingredient = models.ForeignKey(Ingredient, on_delete=models.PROTECT, related_name="use_levels")
    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.ANY)
    market = models.CharField(max_length=2, blank=True)
    category = models.CharField("product category of the certificate", max_length=4, blank=True)
    source_of = models.ForeignKey(
        Source, on_delete=models.PROTECT, null=True, blank=True, related_name="use_levels"
    )
    low = PercentField("from, %", null=True, blank=True)
    high = PercentField("at most, %", null=True, blank=True)
    source = models.TextField(help_text="Supplier's sheet, certificate, book.")
    basis = models.CharField(max_length=12, choices=Basis.choices, default=Basis.SUPPLIER)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "id"]
        constraints = [
            models.CheckConstraint(
                name="uselevel_range",
                condition=(Q(low__isnull=True) | Q(low__gte=0, low__lte=100))
                & (Q(high__isnull=True) | Q(high__gt=0, high__lte=100)),
                violation_error_message="A use level lies between 0 and 100 %%.",
            )
        ]


class Composition(MakerRecord):
    """What an ingredient (of one source) declares, and may contain within that. Frozen once used."""

    ingredient = models.ForeignKey(Ingredient, on_delete=models.PROTECT, related_name="compositions")
    source = models.ForeignKey(
        Source, on_delete=models.PROTECT, null=True, blank=True, related_name="compositions"
    )
    number = models.PositiveSmallIntegerField()
    valid_from = models.DateField()
    document = models.ForeignKey(
        "makers.Document", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    origin = models.TextField("where this is from", blank=True)
    basis = models.CharField(max_length=12, choices=Basis.choices, default=Basis.SUPPLIER)
    allergens_stated = models.BooleanField(
        default=False, help_text="The supplier states the perfume allergens; nothing else is within."
    )
    frozen_at = models.DateTimeField(null=True, blank=True, editable=False)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["ingredient", "number"], name="composition_number_once")
        ]

    def __str__(self) -> str:
        return f"{self.ingredient}, composition {self.number}"


class Constituent(MakerRecord):
    """One substance in a composition."""

    class Kind(models.TextChoices):
        DECLARED = "declared", "Declares"
        WITHIN = "within", "Contains within"

    composition = models.ForeignKey(Composition, on_delete=models.PROTECT, related_name="constituents")
    substance = models.ForeignKey(Substance, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=10, choices=Kind.choices, default=Kind.DECLARED)
    low = PercentField(null=True, blank=True)
    typical = PercentField(null=True, blank=True)
    high = PercentField(null=True, blank=True)
    rank = models.PositiveSmallIntegerField(null=True, blank=True)
    incidental = models.BooleanField(default=False)
    incidental_reason = models.CharField(max_length=200, blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "rank", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["composition", "substance", "kind"],
                name="constituent_once",
                violation_error_message="That substance is already in this composition.",
            ),
            models.CheckConstraint(
                name="constituent_range",
                condition=(Q(low__isnull=True) | Q(low__gte=0, low__lte=100))
                & (Q(typical__isnull=True) | Q(typical__gte=0, typical__lte=100))
                & (Q(high__isnull=True) | Q(high__gte=0, high__lte=100)),
                violation_error_message="A share lies between 0 and 100 %%.",
            ),
        ]


class DatedPaper(MakerRecord):
    """The day that a kept paper itself bears; without a row it was not given."""

    document = models.OneToOneField("makers.Document", on_delete=models.PROTECT, related_name="+")
    issued_on = models.DateField()

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.document}, {self.issued_on}"
