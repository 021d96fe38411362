"""What the tests of paper share."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.actions.ingredients import add_price, add_use_level, copy_from_catalogue
from formulas.models import Ingredient
from makers.actions import By
from tests.formulas.factories_ingredients import make_source


@pytest.fixture
def furnished(by: By) -> Ingredient:
    """An ingredient with everything: composition, level, source, price."""
    row = copy_from_catalogue(by, key="lavender-oil")
    source = make_source(by, row, "Brackwater Oils")
    add_price(by, source=source, on=by.today(), amount=Decimal(29), pack_g=Decimal(200))
    add_use_level(by, ingredient=row, high=Decimal(2), source="Certificate of 2025", basis="memory")
    return row
