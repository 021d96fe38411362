"""A large and a small book and the demo, made once for the run; the database goes when the run ends.

``python3 manage.py test -m benchmark -n 0 tests/benchmarks``; BENCHMARK_BATCHES and BENCHMARK_WEIGHINGS scale it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import pytest
from django.core.management import call_command

from makers.actions import By
from makers.models import Maker, Membership, Role
from tests.benchmarks.building import build
from tests.benchmarks.house import House
from tests.benchmarks.size import SMALL, Size, asked_size
from tests.benchmarks.timing import Figures
from tests.cast import make_maker, make_member, make_scale

FIGURES = pytest.StashKey[Figures]()


@dataclass(frozen=True)
class Book:
    """A maker's whole book with its owner."""

    by: By
    size: Size
    house: House


@dataclass(frozen=True)
class Books:
    """The two written books, and the demo as a maker gets it."""

    large: Book
    small: Book
    demo: By


def write_book(name: str, size: Size) -> Book:
    """A maker with a book of this size up to today."""
    by = make_member(make_maker(name))
    scale = make_scale(by.maker)
    until = datetime.now(UTC).astimezone(by.maker.zone).date()
    return Book(by, size, build(by, scale, size, until=until))


def owner_of(maker: Maker) -> By:
    """The one who signs in first."""
    owner = Membership.objects.filter(maker=maker, role=Role.OWNER).earliest("pk")
    return By(maker=maker, user=owner.user, role=owner.role)


@pytest.fixture(scope="session")
def books(
    request: pytest.FixtureRequest, django_db_setup: None, django_db_blocker: pytest.FixtureDef[object]
) -> Books:
    """All three, written where progress can be seen."""
    capture = request.config.pluginmanager.getplugin("capturemanager")
    with django_db_blocker.unblock(), capture.global_and_fixture_disabled():  # type: ignore[attr-defined]  # pytest-django's own
        large, small = write_book("Large Book", asked_size()), write_book("Small Book", SMALL)
        call_command("load_demo")
        return Books(large, small, owner_of(Maker.objects.get(is_demo=True)))


@pytest.fixture
def figures(request: pytest.FixtureRequest) -> Figures:
    """Where measurements go; the table is shown at the end of the run."""
    return request.config.stash.setdefault(FIGURES, Figures())


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Show the table."""
    found = config.stash.get(FIGURES, None)
    if found is not None and found.lines:
        terminalreporter.section("ratios, best of several rounds")
        for line in found.table():
            terminalreporter.write_line(line)
