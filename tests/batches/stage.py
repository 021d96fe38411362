"""The people and the worked example, made once for the tests of a module; what one of them writes is undone."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from pytest_django import DjangoDbBlocker

from tests.batches.fixture import Example, make_example
from tests.cast import Cast, make_cast
from tests.kept import kept

Stage = tuple[Cast, Example]


@pytest.fixture(scope="module")
def stage(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Stage]:
    """5 units of B1 and 30 of B2 on the shelf, 5 returned."""
    with kept(django_db_blocker):
        cast = make_cast()
        yield cast, make_example(cast.owner)


@pytest.fixture
def cast(stage: Stage) -> Cast:
    """The people; the owner acts."""
    return stage[0]


@pytest.fixture
def example(stage: Stage) -> Example:
    """The example."""
    return stage[1]
