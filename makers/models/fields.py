"""Exact numbers in the database: Decimals kept as scaled integers.

SQLite keeps decimal columns as binary floats, so a sum or a comparison in SQL is not exact there. This field
stores value x 10^places as a whole number and hands Decimals back, so sums, comparisons and CHECKs agree on
every database.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.db import models

if TYPE_CHECKING:
    from django.db.models.expressions import Combinable

LARGEST = 2**63 - 1


def scaled(value: Decimal | int | str, places: int) -> int:
    """Return ``value`` x 10^places as an int.

    Raises ValueError when the value is not finite, has more decimal places than the column, or does not fit.
    """
    if isinstance(value, float):
        raise TypeError("Exact columns take Decimal, int or text, never a float.")
    number = Decimal(value)
    if not number.is_finite():
        raise ValueError(f"{number} is not a number that can be stored.")
    shifted = number.scaleb(places)
    whole = int(shifted)
    if shifted != whole:
        raise ValueError(f"{number} has more than {places} decimal places.")
    if abs(whole) > LARGEST:
        raise ValueError(f"{number} is too large to store.")
    return whole


class ExactDecimalField(models.BigIntegerField):  # type: ignore[type-arg]  # the stubs fix it to int
    """A Decimal with a fixed number of places, exact in SQL on every database."""

    description = "Exact decimal number with %(places)s places"

    if TYPE_CHECKING:  # what a row takes and gives, for the type checker
        _pyi_private_set_type: Decimal | int | str | Combinable  # type: ignore[assignment]  # narrower on purpose
        _pyi_private_get_type: Decimal  # type: ignore[assignment]  # narrower on purpose
        _pyi_lookup_exact_type: Decimal | int | str  # type: ignore[assignment]  # narrower on purpose

    def __init__(self, *args: Any, places: int, **kwargs: Any) -> None:
        self.places = places
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        kwargs["places"] = self.places
        return name, path, args, kwargs

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> Decimal | None:
        """Turn the stored whole number back into a Decimal with the column's places."""
        return None if value is None else Decimal(int(value)).scaleb(-self.places)

    def to_python(self, value: Any) -> Any:
        if value is None or isinstance(value, Decimal):
            return value
        if isinstance(value, float):
            raise ValidationError("Exact columns take Decimal, int or text, never a float.")
        try:
            return Decimal(value)
        except (InvalidOperation, TypeError, ValueError) as error:
            raise ValidationError("That is not a number.") from error

    def get_prep_value(self, value: Any) -> Any:
        if value is None or hasattr(value, "resolve_expression"):
            return value
        return scaled(value, self.places)

    def get_db_prep_value(self, value: Any, connection: Any, prepared: bool = False) -> Any:
        return value if prepared else self.get_prep_value(value)

    def clean(self, value: Any, model_instance: models.Model | None) -> Any:
        value = self.to_python(value)
        if value is not None:
            try:
                scaled(value, self.places)
            except ValueError as error:
                raise ValidationError(str(error)) from error
        return super().clean(value, model_instance)

    @property
    def validators(self) -> list[Any]:
        """The integer range validators do not apply to the Decimal; constraints and clean() do."""
        return list(self._validators)  # type: ignore[attr-defined]  # Django's own list

    def value_to_string(self, obj: models.Model) -> str:
        value = self.value_from_object(obj)
        return "" if value is None else format(value, "f")

    def formfield(self, **kwargs: Any) -> Any:
        from django import forms

        return forms.DecimalField(decimal_places=self.places, **{"label": self.verbose_name, **kwargs})


class GramsField(ExactDecimalField):
    """Grams to 0.0001 g."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("places", 4)
        super().__init__(*args, **kwargs)


class PercentField(ExactDecimalField):
    """Percent (0-100) to 1e-8 %."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("places", 8)
        super().__init__(*args, **kwargs)


class MoneyField(ExactDecimalField):
    """Money in its currency's unit, to 4 places; the currency stands in a column beside it."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("places", 4)
        super().__init__(*args, **kwargs)


class NumberField(ExactDecimalField):
    """Any other measured number (temperature, pH, density, size), to 6 places."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("places", 6)
        super().__init__(*args, **kwargs)
