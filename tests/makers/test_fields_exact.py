"""Exact numbers in the database, held against Python's own Decimal: what goes in comes out, in SQL too."""

from __future__ import annotations

import itertools
from decimal import Decimal, localcontext

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import Avg, ExpressionWrapper, F, Max, Min, Sum, Value
from django.db.models.functions import Coalesce
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from formulas.models import Ingredient
from makers.models import Maker
from makers.models.fields import LARGEST, GramsField, MoneyField, NumberField, PercentField, scaled
from tests.cast import make_maker

PLACES = 6
MOST = Decimal(10) ** 9
figures = st.decimals(min_value=-MOST, max_value=MOST, places=PLACES, allow_nan=False, allow_infinity=False)
in_database = pytest.mark.django_db
shared = settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
_numbers = itertools.count(1)


@pytest.fixture
def maker() -> Maker:
    """A maker; its ingredients have columns without bounds of their own."""
    return make_maker()


def keep(maker: Maker, low: Decimal | None, high: Decimal | None = None) -> Ingredient:
    """A row with two exact numbers."""
    number = next(_numbers)
    return Ingredient.objects.create(
        maker=maker, name=f"n{number}", code=f"n{number}", melting_low_c=low, melting_high_c=high
    )


def clear() -> None:
    """Examples don't see each other's rows."""
    Ingredient.objects.all().delete()


@in_database
@shared
@given(figures)
@example(Decimal("0.1"))
@example(Decimal("-0.000001"))
@example(Decimal("9223372036854.775807"))
@example(Decimal("1E+3"))
def test_what_is_stored_is_loaded(maker: Maker, value: Decimal) -> None:
    """Equal, with the column's places, and found by itself alone."""
    row = keep(maker, value)

    found = Ingredient.objects.get(pk=row.pk).melting_low_c
    assert found == value
    assert isinstance(found, Decimal)
    assert found.as_tuple().exponent == -PLACES
    assert Ingredient.objects.filter(pk=row.pk, melting_low_c=value).exists()
    assert not Ingredient.objects.filter(pk=row.pk, melting_low_c=value - Decimal("0.000001")).exists()


@in_database
@shared
@given(st.lists(figures, min_size=1, max_size=12))
@example([Decimal("0.1")] * 10)
@example([MOST, Decimal("0.000001"), -MOST])
def test_a_sum_in_sql_is_the_sum(maker: Maker, values: list[Decimal]) -> None:
    """To the last place, with least and greatest, and usable in a condition."""
    clear()
    for value in values:
        keep(maker, value)
    found = Ingredient.objects.aggregate(
        all=Sum("melting_low_c"), least=Min("melting_low_c"), most=Max("melting_low_c")
    )
    summed = Maker.objects.annotate(
        total=Coalesce(Sum("pk"), 0)  # a plain number beside it stays one
    ).get(pk=maker.pk)

    assert found == {"all": sum(values), "least": min(values), "most": max(values)}
    assert summed.total == maker.pk
    same = Ingredient.objects.values("maker").annotate(all=Sum("melting_low_c"))
    assert same.filter(all=sum(values)).exists()
    assert not same.filter(all__gt=sum(values)).exists()


@in_database
@shared
@given(figures, figures)
@example(Decimal("2.000000"), Decimal("10"))
@example(Decimal("100"), Decimal("100.000001"))
def test_comparisons_in_sql_agree_with_python(maker: Maker, one: Decimal, other: Decimal) -> None:
    """Column against figure and column against column."""
    row = keep(maker, one, other)
    mine = Ingredient.objects.filter(pk=row.pk)

    for word, truth in (
        ("lt", one < other),
        ("lte", one <= other),
        ("gt", one > other),
        ("gte", one >= other),
        ("exact", one == other),
    ):
        assert mine.filter(**{f"melting_low_c__{word}": other}).exists() == truth
        assert mine.filter(**{f"melting_low_c__{word}": F("melting_high_c")}).exists() == truth
    low, high = sorted((one, other))
    assert mine.filter(melting_low_c__range=(low, high)).exists()
    assert mine.filter(melting_low_c__in=[one, other]).exists()


@in_database
@shared
@given(st.lists(figures, min_size=2, max_size=8))
def test_sorting_in_sql_is_by_size(maker: Maker, values: list[Decimal]) -> None:
    """Not by their first digits, as text would be."""
    clear()
    for value in values:
        keep(maker, value)

    found = Ingredient.objects.order_by("melting_low_c").values_list("melting_low_c", flat=True)
    assert list(found) == sorted(values)


@in_database
@shared
@given(figures, figures)
def test_expressions_of_columns_are_exact(maker: Maker, one: Decimal, other: Decimal) -> None:
    """Sums and differences of columns and of figures that say their kind, in reading and in an update."""
    row = keep(maker, one, other)
    mine = Ingredient.objects.filter(pk=row.pk)
    number = NumberField()
    read = mine.annotate(
        both=ExpressionWrapper(F("melting_low_c") + F("melting_high_c"), output_field=number),
        less=ExpressionWrapper(F("melting_low_c") - Value(other, output_field=number), output_field=number),
    ).get()
    mine.update(melting_low_c=F("melting_low_c") + F("melting_high_c"))

    assert (read.both, read.less) == (one + other, one - other)
    assert mine.get().melting_low_c == one + other


@in_database
def test_nothing_stays_nothing_and_is_not_zero(maker: Maker) -> None:
    """An unknown figure is NULL; a sum of none is none."""
    row = keep(maker, None)

    assert Ingredient.objects.get(pk=row.pk).melting_low_c is None
    assert Ingredient.objects.filter(melting_low_c=0).count() == 0
    assert Ingredient.objects.aggregate(all=Sum("melting_low_c"))["all"] is None


@in_database
def test_the_column_holds_a_whole_number(maker: Maker) -> None:
    """On either database no binary fraction is stored."""
    row = keep(maker, Decimal("0.1"))
    with connection.cursor() as cursor:
        cursor.execute("SELECT melting_low_c FROM formulas_ingredient WHERE id = %s", [row.pk])
        (stored,) = cursor.fetchone()

    assert stored == 100_000
    assert isinstance(stored, int)


@given(st.decimals(allow_nan=True, allow_infinity=True), st.sampled_from([0, 4, 6, 8]))
def test_scaling_is_exact_or_refused(value: Decimal, places: int) -> None:
    """Either value x 10^places, whole and within 64 bits, or a ValueError: never a rounded figure."""
    fits = False
    if value.is_finite() and value.adjusted() < 30:
        with localcontext(prec=2000, Emin=-999999, Emax=999999):
            shifted = value * 10**places
            fits = shifted == shifted.to_integral_value() and abs(shifted) <= LARGEST
    if fits:
        assert Decimal(scaled(value, places)) == shifted
    else:
        with pytest.raises(ValueError, match=r"store|places|large"):
            scaled(value, places)


@pytest.mark.parametrize("value", [0.1, float("nan"), 1.0])
def test_a_float_is_never_taken(value: float) -> None:
    """Not even a whole one: where one came from, others come."""
    with pytest.raises(TypeError):
        scaled(value, 4)  # type: ignore[arg-type]  # that is the question
    with pytest.raises(ValidationError):
        GramsField().to_python(value)


@in_database
@pytest.mark.parametrize("value", ["0.0000001", "1E-7", "NaN", "Infinity", "9223372036854.775808"])
def test_what_does_not_fit_is_refused_before_the_database(maker: Maker, value: str) -> None:
    """In cleaning with a sentence, in saving by a ValueError."""
    with pytest.raises(ValidationError):
        NumberField().clean(Decimal(value), None)
    with pytest.raises(ValueError, match=r"store|places|large"):
        keep(maker, Decimal(value))


@in_database
@shared
@given(figures)
def test_a_fixture_keeps_the_figure(maker: Maker, value: Decimal) -> None:
    """Written as text without exponent and read back the same."""
    row = keep(maker, value)
    text = Ingredient._meta.get_field("melting_low_c").value_to_string(row)

    assert "E" not in text.upper()
    assert NumberField().to_python(text) == value


def test_the_kinds_have_their_places() -> None:
    """Grams to 0.0001 g, percent to 1e-8 %, money and other figures; a migration names them."""
    kinds = {GramsField: 4, PercentField: 8, MoneyField: 4, NumberField: 6}
    for kind, places in kinds.items():
        field = kind()
        assert field.places == places
        assert field.deconstruct()[3]["places"] == places


@in_database
def test_an_average_is_not_offered_as_exact(maker: Maker) -> None:
    """A third has no end: the field refuses nothing, so nobody may rely on Avg; this states what it gives."""
    for value in ("1", "2", "2"):
        keep(maker, Decimal(value))

    found = Ingredient.objects.aggregate(mean=Avg("melting_low_c"))["mean"]
    assert not isinstance(found, Decimal) or found != Decimal(5) / 3
