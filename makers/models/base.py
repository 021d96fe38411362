"""What every record has in common."""

from __future__ import annotations

import uuid as uuids
from collections.abc import Collection, Iterable, Sequence
from functools import cache
from typing import Any, NoReturn, Self

from django.core.exceptions import FieldError, ValidationError
from django.db import models


class MakerQuerySet(models.QuerySet[Any]):
    """Words that every maker-owned table understands."""

    def for_maker(self, maker: models.Model) -> Self:
        """Rows of this maker alone."""
        return self.filter(maker=maker)


class AppendOnlyQuerySet(MakerQuerySet):
    """Rows that are facts: added, never changed. The database's triggers have the last word."""

    def update(self, **kwargs: Any) -> NoReturn:
        raise TypeError(f"{self.model.__name__} rows never change; correct by adding.")

    def delete(self) -> NoReturn:
        raise TypeError(f"{self.model.__name__} rows are never deleted.")


class Bounds:
    """The check constraints of a table asked as one question; one by one only where the answer is no."""

    def __init__(self, each: Sequence[models.CheckConstraint]) -> None:
        self.each = each
        self.together = models.Q(*(one.condition for one in each))
        self.asked: set[str] = self.together.referenced_base_fields

    def validate(
        self, model: Any, instance: Any, exclude: set[str] | None = None, using: str = "default"
    ) -> None:
        """As a constraint's own. Raises ValidationError with the sentence of each that fails."""
        figures = instance._get_field_expression_map(meta=model._meta, exclude=exclude)
        try:
            if self.together.check({name: figures[name] for name in self.asked & figures.keys()}, using):
                return
        except FieldError:  # one of them speaks of a field that is left out; the others still count
            pass
        failed = []
        for one in self.each:
            try:
                one.validate(model, instance, exclude=exclude, using=using)
            except ValidationError as error:
                failed.append(error)
        if failed:
            raise ValidationError(failed)


@cache
def constraints_of(model: type[models.Model]) -> list[models.BaseConstraint | Bounds]:
    """The constraints of a table, its checks as one."""
    checks = [one for one in model._meta.constraints if isinstance(one, models.CheckConstraint)]
    others = [one for one in model._meta.constraints if not isinstance(one, models.CheckConstraint)]
    return [*others, Bounds(checks)] if checks else [*others]


class Record(models.Model):
    """A record with an identity that survives export, restore and renaming."""

    uuid = models.UUIDField(default=uuids.uuid4, unique=True, editable=False)

    class Meta:
        abstract = True

    def full_clean(
        self,
        exclude: Iterable[str] | None = None,
        validate_unique: bool = True,
        validate_constraints: bool = True,
    ) -> None:
        """As Django's, without asking whether a random identity is taken: the database answers that on saving."""
        super().full_clean({*(exclude or ()), "uuid"}, validate_unique, validate_constraints)

    def validate_constraints(self, exclude: Collection[str] | None = None) -> None:
        """As Django's, apart from codes and entry keys: giving a code and ``still_new`` have looked already."""
        super().validate_constraints({*(exclude or ()), "code", "entry_key"})

    def get_constraints(self) -> list[tuple[Any, Any]]:
        """As Django's, with the bounds of each table as one."""
        return [(model, constraints_of(model)) for model, _ in super().get_constraints()]

    def clean_fields(self, exclude: Collection[str] | None = None) -> None:
        """As Django's, without asking again whether a related record exists that was loaded from there."""
        super().clean_fields({*(exclude or ()), *self._loaded_relations()})

    def _loaded_relations(self) -> set[str]:
        """Names of the foreign keys whose record is at hand and stored."""
        found = set()
        for field in self._meta.concrete_fields:
            if isinstance(field, models.ForeignKey) and field.is_cached(self):
                related = field.get_cached_value(self)
                if related is not None and not related._state.adding:
                    found.add(field.name)
        return found


class MakerRecord(Record):
    """A record that belongs to one maker. Foreign keys to another maker's records are refused by triggers."""

    maker = models.ForeignKey("makers.Maker", on_delete=models.PROTECT, related_name="+", editable=False)

    class Meta:
        abstract = True


class AppendOnly(MakerRecord):
    """A fact: saved once. Triggers on both databases refuse UPDATE, DELETE and TRUNCATE."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError(f"{type(self).__name__} rows never change; correct by adding.")
        kwargs["force_insert"] = True
        super().save(*args, **kwargs)

    def full_clean(
        self, exclude: Any = None, validate_unique: bool = False, validate_constraints: bool = False
    ) -> None:
        """Check the fields. What is unique and bounded the database checks on insert: a fact is written by an
        action that has looked already, and asking once more before each of them would double the queries."""
        super().full_clean(exclude, validate_unique, validate_constraints)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise TypeError(f"{type(self).__name__} rows are never deleted.")


class Event(AppendOnly):
    """Something that happened: when it happened apart from when it was written down, and by whom."""

    occurred_at = models.DateTimeField()
    entered_at = models.DateTimeField()
    user = models.ForeignKey("makers.User", on_delete=models.PROTECT, related_name="+")
    entry_key = models.UUIDField(null=True, blank=True, help_text="Makes a repeated submission harmless.")

    class Meta:
        abstract = True
