"""The cast of the making tests."""

from __future__ import annotations

import pytest
from django.test import Client

from makers.actions import By
from makers.models import Maker
from tests.cast import Cast, make_cast


@pytest.fixture
def cast(db: None) -> Cast:
    """The maker with its members, and a stranger."""
    return make_cast()


@pytest.fixture
def maker(cast: Cast) -> Maker:
    """Whose bench it is."""
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
