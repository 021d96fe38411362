"""The cast of the tests of paper."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client

from formulas.actions.ingredients import add_price, add_use_level, copy_from_catalogue
from formulas.models import Ingredient
from makers.actions import By
from makers.models import Maker
from tests.cast import Cast, make_cast
from tests.formulas.factories_ingredients import make_source


@pytest.fixture
def cast(db: None) -> Cast:
    """The maker with its members, and a stranger."""
    return make_cast()


@pytest.fixture
def maker(cast: Cast) -> Maker:
    """Whose papers these are."""
    return cast.maker


@pytest.fixture
def by(cast: Cast) -> By:
    """The owner, who acts."""
    return cast.owner


@pytest.fixture
def at_home(client: Client, by: By) -> Client:
    """A browser in which the owner is signed in."""
    client.force_login(by.user)
    return client


@pytest.fixture
def furnished(by: By) -> Ingredient:
    """An ingredient with everything: composition, level, source, price."""
    row = copy_from_catalogue(by, key="lavender-oil")
    source = make_source(by, row, "Brackwater Oils")
    add_price(by, source=source, on=by.today(), amount=Decimal(29), pack_g=Decimal(200))
    add_use_level(by, ingredient=row, high=Decimal(2), source="Certificate of 2025", basis="memory")
    return row
