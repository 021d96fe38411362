"""No list and no page asks the database more often because there is more to show, whatever it is asked for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoDbBlocker

from tests.growth import grow
from tests.kept import kept
from tests.test_crawl import NEEDS, status
from tests.variants import LISTS, OTHERS, queries_of
from tests.world import World, addresses, make_world

pytestmark = pytest.mark.django_db
MORE = 14
"""Enough for any question asked once a row to show; more only takes longer."""


@dataclass
class Asked:
    """How often each address asks the database, and which of them had rows to show."""

    pages: dict[str, int] = field(default_factory=dict)
    variants: dict[str, int] = field(default_factory=dict)
    with_rows: set[str] = field(default_factory=set)


def variants_of(world: World) -> Iterator[tuple[str, str]]:
    """Every variant of every list, of the trace and of the search: its name and its query."""
    codes = world.given["codes"]
    known = {
        "pack": codes["packs"],
        "dispatch": codes["dispatches"],
        "recipient": codes["recipients"],
        "delivery": codes["deliveries"],
        "complaint": codes["complaints"],
    }
    for name in LISTS:
        yield from ((name, query) for query in queries_of(name))
    for name, queries in OTHERS.items():
        yield from ((name, query.format(**known)) for query in queries)


def count(world: World) -> Asked:
    """Ask for everything, once what is kept in memory is there."""
    client = Client()
    client.force_login(world.cast.owner.user)
    asked, found = Asked(), addresses(world)
    for name, path in found.items():
        url = path + NEEDS.get(name, "")
        if status(client, "get", url) == 200:
            with CaptureQueriesContext(connection) as queries:
                status(client, "get", url)
            asked.pages[name] = len(queries)
    for name, query in variants_of(world):
        with CaptureQueriesContext(connection) as queries:
            response = client.get(f"{found[name]}?{query}")
        assert response.status_code == 200, (name, query, response.status_code)
        asked.variants[f"{name}?{query}"] = len(queries)
        page = response.context["page"] if response.context and "page" in response.context else None
        if page is None or getattr(page, "rows", True):
            asked.with_rows.add(f"{name}?{query}")
    return asked


@dataclass(frozen=True)
class Counted:
    """Queries with little and with more to show."""

    little: Asked
    more: Asked


@pytest.fixture(scope="module")
def counted(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Counted]:
    """The world's pages, before and after it grew."""
    with kept(django_db_blocker):
        world = make_world()
        grow(world, range(2))
        little = count(world)
        grow(world, range(2, MORE))
        yield Counted(little, count(world))


def grown(little: dict[str, int], more: dict[str, int]) -> dict[str, tuple[int, int]]:
    """What asks more often than it did, with both counts."""
    return {
        name: (little[name], many) for name, many in more.items() if name in little and many > little[name]
    }


def test_no_page_asks_more_often_for_more_rows(counted: Counted) -> None:
    """With more than a dozen of everything to show, every page asks as often as with one or two."""
    assert grown(counted.little.pages, counted.more.pages) == {}


def test_no_search_sort_or_filter_asks_more_often_for_more_rows(counted: Counted) -> None:
    """Words, every sort both ways, every choice, the trace both ways, CSV: as often for fourteen as for two."""
    little = {
        name: many for name, many in counted.little.variants.items() if name in counted.little.with_rows
    }

    assert grown(little, counted.more.variants) == {}
    assert len(little) > 150


def test_every_page_was_counted_both_times(counted: Counted) -> None:
    """No page dropped out because it broke once there was more."""
    assert counted.little.pages.keys() == counted.more.pages.keys()
    assert counted.little.variants.keys() == counted.more.variants.keys()
    assert len(counted.little.pages) > 60


def test_no_page_asks_very_often(counted: Counted) -> None:
    """A page that asks more than this has lost sight of its data; two that look at everything may."""
    most, everything = 60, {"house:check", "house:export"}
    asked = {**counted.more.pages, **counted.more.variants}

    assert {name: many for name, many in asked.items() if many > most and name not in everything} == {}
