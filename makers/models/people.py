"""Users, makers (businesses), memberships, scales and responsible parties."""

from __future__ import annotations

from typing import Any, ClassVar
from zoneinfo import ZoneInfo, available_timezones

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from makers.models.base import Event, MakerQuerySet, MakerRecord, Record
from makers.models.fields import GramsField


class Market(models.TextChoices):
    """Where a product is sold. Northern Ireland follows the EU."""

    EU = "EU", "European Union and Northern Ireland"
    US = "US", "United States"
    GB = "GB", "Great Britain"
    CA = "CA", "Canada"
    AU = "AU", "Australia"
    NZ = "NZ", "New Zealand"


class Role(models.TextChoices):
    """What a member may do."""

    OWNER = "owner", "Owner"
    WORKER = "worker", "Worker"
    READER = "reader", "Reader"


class UserManager(BaseUserManager["User"]):
    """Makes users known by their e-mail."""

    def create_user(self, email: str, password: str | None = None, *, name: str = "") -> User:
        """Save a new user; the e-mail is kept in lower case."""
        user = self.model(email=self.normalize_email(email).lower(), name=name)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, username: str | None) -> User:
        return self.get(email=(username or "").lower())


class User(AbstractBaseUser, Record):
    """A person who signs in with an e-mail and a password."""

    email = models.EmailField("e-mail", unique=True)
    name = models.CharField(max_length=120, blank=True)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[UserManager] = UserManager()

    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = []

    class Meta:
        constraints = [
            models.UniqueConstraint(
                Lower("email"), name="user_email_once", violation_error_message="That e-mail has an account."
            )
        ]

    def __str__(self) -> str:
        return self.name or self.email

    @property
    def short_name(self) -> str:
        """The name that the page's head shows."""
        return (self.name or self.email).split(" ")[0].split("@")[0]


def check_time_zone(value: str) -> None:
    """Refuse a zone that this machine doesn't know."""
    if value not in available_timezones():
        raise ValidationError(f"“{value}” is not a time zone known here. Take one from the list.")


class Maker(Record):
    """A business: everything else belongs to one."""

    slug = models.SlugField(max_length=50, unique=True)
    trading_name = models.CharField(max_length=120)
    legal_name = models.CharField(max_length=160, blank=True)
    address = models.TextField(blank=True, help_text="As it is printed on the label.")
    country = models.CharField(max_length=2)
    reactions_email = models.EmailField(blank=True)
    reactions_phone = models.CharField(max_length=40, blank=True)
    website = models.URLField(blank=True)
    time_zone = models.CharField(max_length=60, default="UTC", validators=[check_time_zone])
    locale = models.CharField(max_length=12, default="en_IE", help_text="How numbers are typed and read.")
    currency = models.CharField(max_length=3, default="EUR")
    markets = models.JSONField(default=list)
    works_alone = models.BooleanField(default=True)
    is_demo = models.BooleanField(default=False)
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["trading_name", "id"]

    def __str__(self) -> str:
        return self.trading_name

    @property
    def zone(self) -> ZoneInfo:
        """The maker's own time zone, in which days and deadlines are counted."""
        return ZoneInfo(self.time_zone)

    @property
    def printed_name(self) -> str:
        """The name that labels carry."""
        return self.legal_name or self.trading_name


class OldSlug(models.Model):
    """An address that a maker had before; it leads to the new one and is never given to another."""

    slug = models.SlugField(max_length=50, unique=True)
    maker = models.ForeignKey(Maker, on_delete=models.PROTECT, related_name="old_slugs")

    def __str__(self) -> str:
        return self.slug


class Membership(MakerRecord):
    """A user's place in a maker's house."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=10, choices=Role.choices)
    active = models.BooleanField(default=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "user"],
                name="membership_once",
                violation_error_message="That person is a member already. Change the role in the list.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.user} ({self.get_role_display()})"


class Scale(MakerRecord):
    """A balance: what it can show and carry."""

    name = models.CharField(max_length=60)
    readability_g = GramsField()
    capacity_g = GramsField()
    repeatability_g = GramsField(null=True, blank=True)
    active = models.BooleanField(default=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        ordering = ["readability_g", "name"]
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "name"],
                name="scale_name_once",
                violation_error_code="name_taken",
                violation_error_message=(
                    "There is a scale of that name already. Give this one another name, or use that one."
                ),
            ),
            models.CheckConstraint(
                name="scale_steps",
                condition=Q(readability_g__gt=0, capacity_g__gt=models.F("readability_g")),
                violation_error_message="The step is above 0 g and smaller than the most the scale carries.",
            ),
            models.CheckConstraint(
                name="scale_bounds",
                condition=Q(capacity_g__lte=10_000_000, repeatability_g__gte=0),
                violation_error_message="A scale carries 10 000 kg at most, and repeats within 0 g or more.",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class ScaleCheck(Event):
    """A test weight put on a scale, and what it showed."""

    scale = models.ForeignKey(Scale, on_delete=models.PROTECT, related_name="checks")
    weight_g = GramsField()
    shown_g = GramsField()
    note = models.CharField(max_length=200, blank=True)

    objects = MakerQuerySet.as_manager()


class ResponsibleParty(MakerRecord):
    """Who answers for products in a market, where that is not the maker."""

    market = models.CharField(max_length=2, choices=Market.choices)
    name = models.CharField(max_length=160)
    address = models.TextField()
    contact = models.CharField(max_length=160, blank=True)

    objects = MakerQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["maker", "market"],
                name="responsible_once",
                violation_error_code="market_taken",
                violation_error_message="Somebody answers for that market already. Change that entry.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.market})"


class Contact(MakerRecord):
    """Personal data of a recipient or complainant, apart from all records, erasable."""

    name = models.CharField(max_length=160, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    note = models.TextField(blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)

    objects = MakerQuerySet.as_manager()

    def __str__(self) -> str:
        return "erased" if self.erased_at else self.name

    def forget(self) -> dict[str, Any]:
        """Blank every personal field on this instance; the caller saves. Returns what to update."""
        for name in ("name", "email", "phone", "address", "note"):
            setattr(self, name, "")
        return {"name": "", "email": "", "phone": "", "address": "", "note": ""}
