"""Which tables hold a maker's records, and how their columns look outside the database.

Everything is found in the app registry: a model with a key to its maker is in every export, so none
is forgotten. Keys of the database never leave it: a reference is written as the UUID of what it points to,
or as ``reference:key`` where that is a shared reference row.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.apps import apps
from django.db import models
from django.db.models import OuterRef, QuerySet, Subquery

from makers.actions.journal import plain
from makers.models import Maker, User
from makers.models.fields import ExactDecimalField, GramsField, MoneyField, PercentField

WORLDS = ("makers", "formulas", "batches", "labels")
USERS = "makers.user"
USER_COLUMNS = ("uuid", "email", "name")
SHARED = "reference:"
# Numbers that are keys of rows, without being foreign keys: 0 stands for none.
KEY_NUMBERS = {"batches.release": {"after_amendment": "batches.amendment"}}
UNITS = {"_c": "°C", "_mm": "mm", "_g_ml": "g/ml", "_months": "months", "minutes": "min", "size": "bytes"}


@dataclass(frozen=True, slots=True)
class Column:
    """One column as it stands in an export. ``refers_to`` is the label of the table whose UUIDs it holds."""

    name: str
    field: models.Field[Any, Any]
    kind: str
    unit: str = ""
    places: int | None = None
    refers_to: str = ""
    lookups: tuple[str, ...] = ()

    def schema(self) -> dict[str, Any]:
        """What the schema file says of it."""
        said: dict[str, Any] = {"name": self.name, "type": self.kind, "may_be_empty": self.field.null}
        said["title"] = str(self.field.verbose_name)
        if self.unit:
            said["unit"] = self.unit
        if self.places is not None:
            said["decimal_places"] = self.places
        if self.refers_to:
            said["refers_to"] = f"{self.refers_to}.uuid"
        if self.field.choices:
            said["values"] = {str(value): str(title) for value, title in self.field.flatchoices}
        return said


@dataclass(frozen=True, slots=True)
class Table:
    """One model in the export."""

    label: str
    model: type[models.Model]
    columns: tuple[Column, ...]

    @property
    def title(self) -> str:
        """Its name for readers."""
        title = re.sub(r"(?<=[^aeiou])ys$", "ies", str(self.model._meta.verbose_name_plural))
        return title[:1].upper() + title[1:]

    @property
    def meaning(self) -> str:
        """The first line of what the model says of itself."""
        return (self.model.__doc__ or "").strip().splitlines()[0]

    def rows_of(self, maker: Maker) -> QuerySet[Any]:
        """The maker's rows, in the order in which they were written."""
        own = {"pk": maker.pk} if self.model is Maker else {"maker": maker}
        return self.model._base_manager.filter(**own).order_by("pk")

    def values(self, maker: Maker) -> Iterator[dict[str, Any]]:
        """The maker's rows as plain values, streamed."""
        rows = self.rows_of(maker)
        wanted: list[str] = []
        for column in self.columns:
            if column.name in KEY_NUMBERS.get(self.label, {}):
                target = apps.get_model(column.refers_to)._base_manager
                uuid = target.filter(pk=OuterRef(column.name)).values("uuid")[:1]
                rows = rows.annotate(**{f"{column.name}_uuid": Subquery(uuid)})
            wanted += column.lookups
        for found in rows.values_list(*wanted).iterator(chunk_size=1000):
            row, at = {}, 0
            for column in self.columns:
                values = found[at : at + len(column.lookups)]
                at += len(column.lookups)
                row[column.name] = outside(values)
            yield row


def outside(values: tuple[Any, ...]) -> Any:
    """A value as it leaves the house. A reference to what may be shared comes as UUID, maker and key."""
    if len(values) == 3:
        uuid, maker, key = values
        if uuid is not None and maker is None:
            return f"{SHARED}{key}"
        return plain(uuid)
    return plain(values[0])


def has_maker(model: type[models.Model]) -> bool:
    """Whether a model's rows belong to a maker."""
    return any(
        field.name == "maker" and field.related_model is Maker for field in model._meta.concrete_fields
    )


def may_be_shared(model: type[models.Model]) -> bool:
    """Whether some rows of a maker-owned model are reference for every maker (their maker is empty)."""
    return has_maker(model) and bool(model._meta.get_field("maker").null)


def owned_models() -> list[type[models.Model]]:
    """Every model with rows of a maker, in the order of its world and of its definition."""
    return [
        model
        for world in WORLDS
        for model in apps.get_app_config(world).get_models(include_auto_created=True)
        if has_maker(model)
    ]


def in_order(found: list[type[models.Model]]) -> list[type[models.Model]]:
    """What is pointed to comes before what points; a circle is cut where the definitions begin it."""
    done: dict[type[models.Model], None] = {}
    open_: set[type[models.Model]] = set()

    def visit(model: type[models.Model]) -> None:
        if model in done or model in open_:
            return
        open_.add(model)
        for field in model._meta.concrete_fields:
            target = field.related_model
            if isinstance(target, type) and target in found:
                visit(target)
        done[model] = None

    for model in found:
        visit(model)
    return list(done)


def column_of(label: str, field: models.Field[Any, Any]) -> Column:
    """How a model's field stands in an export."""
    target = field.related_model
    if isinstance(field, models.ForeignKey) and isinstance(target, type):
        lookups: tuple[str, ...] = (f"{field.name}__uuid",)
        if may_be_shared(target):
            lookups += (f"{field.name}__maker", f"{field.name}__key")
        return Column(field.name, field, "reference", refers_to=target._meta.label_lower, lookups=lookups)
    if to := KEY_NUMBERS.get(label, {}).get(field.name):
        return Column(field.name, field, "reference", refers_to=to, lookups=(f"{field.name}_uuid",))
    kind, places = kind_of(field)
    return Column(field.name, field, kind, unit_of(field), places, lookups=(field.name,))


def kind_of(field: models.Field[Any, Any]) -> tuple[str, int | None]:
    """The type of a column in words, and the places of a decimal."""
    if isinstance(field, ExactDecimalField):
        return "decimal", field.places
    for of, word in (
        (models.UUIDField, "uuid"),
        (models.BooleanField, "true or false"),
        (models.DateTimeField, "time, ISO 8601 with offset"),
        (models.DateField, "day, ISO 8601"),
        (models.IntegerField, "whole number"),
        (models.JSONField, "JSON"),
    ):
        if isinstance(field, of):
            return word, None
    return "text", None


def unit_of(field: models.Field[Any, Any]) -> str:
    """The unit of a column's figures, as far as it is one unit."""
    if isinstance(field, GramsField):
        return (
            "pieces where the row's unit is pieces, otherwise g"
            if field.name in {"on_hand", "amount", "counted"}
            else "g"
        )
    if isinstance(field, PercentField):
        return "%"
    if isinstance(field, MoneyField):
        return "the currency named in the row or by the maker"
    return next((unit for end, unit in UNITS.items() if field.name.endswith(end)), "")


@cache
def tables() -> tuple[Table, ...]:
    """Every table of an export: the maker first, then all that belongs to it."""
    found = []
    every: list[type[models.Model]] = [Maker, *in_order(owned_models())]
    for model in every:
        label = model._meta.label_lower
        columns = tuple(
            column_of(label, field)
            for field in model._meta.concrete_fields
            if not field.primary_key and field.name != "maker" and not isinstance(field, models.FileField)
        )
        found.append(Table(label, model, columns))
    return tuple(found)


def users_of(maker: Maker) -> QuerySet[User]:
    """Everyone whom the maker's records name."""
    keys: set[int] = set()
    for table in tables():
        for column in table.columns:
            if column.refers_to == USERS:
                rows = table.rows_of(maker).filter(**{f"{column.name}__isnull": False})
                keys |= set(rows.order_by().values_list(f"{column.name}_id", flat=True).distinct())
    return User.objects.filter(pk__in=keys).order_by("pk")


def counts(maker: Maker) -> list[tuple[str, int]]:
    """How many rows each table has, by its title; empty tables are left out."""
    found = ((table.title, table.rows_of(maker).order_by().count()) for table in tables()[1:])
    return sorted((title, count) for title, count in found if count)
