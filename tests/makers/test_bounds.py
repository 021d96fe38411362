"""The bounds of a row: one question to the database while they hold, each one's own sentence where they don't."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.models import BatchLine, Lot
from makers.actions import By
from tests.batches.stock.factories_stock import make_ingredient, make_lot

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot(by: By) -> Lot:
    """A lot as it should be."""
    return make_lot(by, make_ingredient(by.maker, "Plum kernel oil"), "100")


def checks(queries: CaptureQueriesContext) -> int:
    """How often bounds were asked about."""
    return sum("_check" in one["sql"] and "SAVEPOINT" not in one["sql"] for one in queries.captured_queries)


def messages(lot: Lot, *left_out: str) -> list[str]:
    """What is said about a lot."""
    with pytest.raises(ValidationError) as caught:
        lot.validate_constraints(exclude=set(left_out))
    return caught.value.messages


def test_bounds_that_hold_are_one_question(lot: Lot) -> None:
    """Three of a lot, asked together."""
    with CaptureQueriesContext(connection) as queries:
        lot.validate_constraints()

    assert checks(queries) == 1


def test_a_bound_that_is_broken_gives_its_own_sentence(lot: Lot) -> None:
    """Not that of another."""
    lot.on_hand = Decimal(-1)

    assert messages(lot) == ["A lot never holds less than nothing."]


def test_two_that_are_broken_are_both_said(lot: Lot) -> None:
    """Each with its sentence."""
    lot.on_hand, lot.unit = Decimal(-1), "pieces"

    said = messages(lot)

    assert len(said) == 2
    assert "A lot never holds less than nothing." in said
    assert any("lot_of_one_thing" in one for one in said)


def test_a_field_left_out_leaves_the_other_bounds_in_force(lot: Lot) -> None:
    """What speaks of the field is not asked; the rest is."""
    lot.on_hand, lot.unit = Decimal(-1), "pieces"

    (said,) = messages(lot, "on_hand")
    lot.unit = "g"
    lot.validate_constraints(exclude={"on_hand"})

    assert "lot_of_one_thing" in said


def test_unknown_breaks_no_bound(lot: Lot) -> None:
    """A line that says no grams is within its bounds; one of less than nothing isn't."""
    line = BatchLine(maker=lot.maker, kind="adjust", ingredient=lot.ingredient, planned_g=None)
    line.validate_constraints()

    line.planned_g = Decimal(-1)

    with pytest.raises(ValidationError, match="batchline_bounds"):
        line.validate_constraints()
