"""Packs, where they are, who got them, and what came back."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from makers.models import Event, MakerQuerySet, MakerRecord
from makers.models.fields import GramsField


class Place(MakerRecord):
    """Where packs are."""

    class Kind(models.TextChoices):
        WORKSHOP = "workshop", "Workshop"
        STALL = "stall", "Stall box"
        SHOP = "shop", "Shop, sale or return"
        RETURNS = "returns", "Returns, to be judged"
        KEPT = "kept", "Kept samples"

    code = models.CharField(max_length=20, editable=False)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    contact = models.ForeignKey(
        "makers.Contact", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    active = models.BooleanField(default=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "name"],
                name="place_name_once",
                violation_error_code="name_taken",
                violation_error_message=(
                    "There is a place of that name already. Give this one another name, or use that one."
                ),
            ),
            models.UniqueConstraint(fields=["maker", "code"], name="place_code_once"),
            models.UniqueConstraint(
                fields=["maker", "kind"],
                condition=Q(kind__in=["workshop", "returns", "kept"]),
                name="place_one_of_its_kind",
                violation_error_message="A workshop has one place of that kind. Choose another kind.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_out(self) -> bool:
        """Packs here are out of the maker's house, though still the maker's."""
        return self.kind == self.Kind.SHOP


class Pack(MakerRecord):
    """Filled units of one product from one batch."""

    code = models.CharField(max_length=20, editable=False)
    batch = models.ForeignKey("batches.Batch", on_delete=models.PROTECT, related_name="packs")
    product = models.ForeignKey("formulas.Product", on_delete=models.PROTECT, related_name="packs")
    units = models.PositiveIntegerField()
    grams = GramsField()
    packed_on = models.DateField()
    best_before = models.DateField(null=True, blank=True)
    best_before_why = models.TextField(blank=True)
    held = models.BooleanField(default=False, editable=False)
    note = models.TextField(blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        constraints = [models.UniqueConstraint(fields=["maker", "code"], name="pack_code_once")]
        indexes = [models.Index(fields=["maker", "-id"], name="pack_newest")]

    def __str__(self) -> str:
        return self.code

    @property
    def on_hold(self) -> str:
        """What is on hold, in words: the pack, its batch, or both; empty where neither is."""
        if self.batch.held:
            return "Pack and batch on hold" if self.held else "Batch on hold"
        return "On hold" if self.held else ""


class PackBalance(MakerRecord):
    """Units of a pack at a place; kept by a database trigger from the entries, never negative."""

    pack = models.ForeignKey(Pack, on_delete=models.PROTECT, related_name="balances")
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="balances")
    units = models.IntegerField(default=0)

    objects = MakerQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["pack", "place"],
                name="packbalance_once",
                violation_error_message="That pack has a count at this place already. Load the page anew.",
            ),
            models.CheckConstraint(
                name="packbalance_never_negative",
                condition=Q(units__gte=0),
                violation_error_message="There are not that many there.",
            ),
        ]


class Recipient(MakerRecord):
    """Who packs go to. Personal data stand in the contact, which can be erased."""

    class Kind(models.TextChoices):
        SHOP = "shop", "Shop that buys"
        PERSON = "person", "Person"
        ONLINE = "online", "Online order"
        MARKET = "market", "Market day, buyers unknown"
        GIFT = "gift", "Gift or tester"

    code = models.CharField(max_length=20, editable=False)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    contact = models.ForeignKey(
        "makers.Contact", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    market = models.CharField(max_length=2, blank=True)
    made_at = models.DateTimeField()

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        constraints = [models.UniqueConstraint(fields=["maker", "code"], name="recipient_code_once")]

    def __str__(self) -> str:
        return self.code

    @property
    def shown_name(self) -> str:
        """The name on record; what kind of recipient it is where there is none."""
        if self.contact is None or not (self.contact.name or self.contact.erased_at):
            return self.get_kind_display()
        return self.contact.name or "Erased"


class Dispatch(MakerRecord):
    """Packs leaving to a recipient."""

    code = models.CharField(max_length=20, editable=False)
    recipient = models.ForeignKey(Recipient, on_delete=models.PROTECT, related_name="dispatches")
    on = models.DateField()
    market = models.CharField(max_length=2, blank=True)
    reference = models.CharField(max_length=80, blank=True)
    entered_at = models.DateTimeField()
    user = models.ForeignKey("makers.User", on_delete=models.PROTECT, related_name="+")
    note = models.TextField(blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-on", "-id"]
        verbose_name_plural = "dispatches"
        constraints = [models.UniqueConstraint(fields=["maker", "code"], name="dispatch_code_once")]
        indexes = [models.Index(fields=["maker", "-on", "-id"], name="dispatch_newest")]

    def __str__(self) -> str:
        return self.code


class Return(MakerRecord):
    """Packs that came back; they wait among the returns until judged."""

    code = models.CharField(max_length=20, editable=False)
    dispatch = models.ForeignKey(
        Dispatch, on_delete=models.PROTECT, null=True, blank=True, related_name="returns"
    )
    pack = models.ForeignKey(Pack, on_delete=models.PROTECT, related_name="returns")
    units = models.PositiveIntegerField()
    on = models.DateField()
    reason = models.TextField()
    entered_at = models.DateTimeField()
    user = models.ForeignKey("makers.User", on_delete=models.PROTECT, related_name="+")

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(fields=["maker", "code"], name="return_code_once"),
            models.CheckConstraint(name="return_units", condition=Q(units__gt=0)),
        ]

    def __str__(self) -> str:
        return self.code


class PackEntry(Event):
    """Units of a pack moving: from a place or from nowhere, to a place or out."""

    class Kind(models.TextChoices):
        PACKED = "packed", "Packed"
        MOVED = "moved", "Moved"
        DISPATCHED = "dispatched", "Dispatched"
        RETURNED = "returned", "Came back"
        RESTORED = "restored", "Back for sale"
        KEPT = "kept", "Kept as sample"
        DESTROYED = "destroyed", "Destroyed"
        COUNTED = "counted", "Count corrected"
        REVERSED = "reversed", "Taken back"

    pack = models.ForeignKey(Pack, on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    units = models.PositiveIntegerField()
    from_place = models.ForeignKey(Place, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    to_place = models.ForeignKey(Place, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    dispatch = models.ForeignKey(
        Dispatch, on_delete=models.PROTECT, null=True, blank=True, related_name="entries"
    )
    came_back = models.ForeignKey(
        Return, on_delete=models.PROTECT, null=True, blank=True, related_name="entries"
    )
    why = models.TextField(blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "pack entries"
        constraints = [
            models.CheckConstraint(
                name="packentry_moves",
                condition=Q(units__gt=0) & (Q(from_place__isnull=False) | Q(to_place__isnull=False)),
            ),
            models.UniqueConstraint(
                fields=["maker", "entry_key"], condition=Q(entry_key__isnull=False), name="packentry_key_once"
            ),
        ]
        indexes = [models.Index(fields=["pack", "kind"], name="packentry_pack_kind")]
