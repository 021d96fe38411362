"""Every list: filtered, sorted both ways, paged through to its end, and as CSV in the same order."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.test import Client
from pytest_django import DjangoDbBlocker

from batches.actions.stock import open_hold
from batches.views.shelf import Row
from formulas.overview import IngredientRow
from labels.standing import Standing
from makers.actions.house import erase_contact
from makers.http import address
from makers.views import lists
from tests.formulas.pages import text_of
from tests.growth import grow
from tests.kept import kept
from tests.variants import LISTS, SORTS
from tests.world import World, make_world

pytestmark = pytest.mark.django_db
SMALL_PAGE = 3


@pytest.fixture(scope="module")
def world(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    """A world with at least eight of everything that is listed, labels apart; made once."""
    with kept(django_db_blocker):
        made = make_world()
        grow(made, range(8))
        yield made


@pytest.fixture
def visitor(client: Client, world: World) -> Client:
    """A browser in which the owner is signed in."""
    client.force_login(world.cast.owner.user)
    return client


def where(world: World, name: str) -> str:
    """The address of a list."""
    return address(world.maker, name)


def table(client: Client, url: str) -> list[list[str]]:
    """The list as CSV, heads first."""
    response = client.get(url)
    assert response.status_code == 200
    assert response["Content-Type"].startswith("text/csv")
    return list(csv.reader(response.content.decode().removeprefix("\ufeff").splitlines()))


def walked(client: Client, url: str, query: str) -> list[Any]:
    """The rows of every page, from the first to the last, by the links under the list."""
    rows: list[Any] = []
    while query:
        response = client.get(url + query)
        assert response.status_code == 200
        rows += response.context["page"].rows
        query = response.context["pager"]["next_url"]
        assert not query or query.replace("&", "&amp;") in response.content.decode()
    return rows


def record(row: Any) -> Any:
    """What a row is of: a list of lots, labels or ingredients shows more than the record."""
    match row:
        case Row():
            return row.lot
        case Standing():
            return row.label
        case IngredientRow():
            return row.record
    return row


@pytest.mark.parametrize(("name", "sort"), SORTS)
def test_a_sort_pages_through_every_row_once_in_the_order_of_the_csv(
    visitor: Client, world: World, monkeypatch: pytest.MonkeyPatch, name: str, sort: str
) -> None:
    """Page by page nothing is left out, nothing comes twice, and the sorted column never turns back."""
    monkeypatch.setattr(lists, "PAGE", SMALL_PAGE)
    listing, url = LISTS[name][0], where(world, name)
    column = listing.sorts[sort.lstrip("-")].column
    everything = "&state=all" if name == "batches:lots" else ""

    rows = walked(visitor, url, f"?sort={sort}{everything}")
    lines = table(visitor, f"{url}?sort={sort}{everything}&as=csv")

    records = [record(row) for row in rows]
    values = [lists.value_of(record, column) for record in records]
    assert len({record.pk for record in records}) == len(rows) == len(lines) - 1
    assert len(rows) > (SMALL_PAGE if name != "labels:labels" else 1)
    assert [str(listing.cells(row)[0]) for row in rows] == [line[0] for line in lines[1:]]
    assert lines[0] == list(listing.heads)
    if not isinstance(values[0], str):  # a database has its own order of letters
        assert values == sorted(values, reverse=sort.startswith("-"))


@pytest.mark.parametrize("name", LISTS)
def test_a_filter_offers_every_sort_that_the_heads_offer(visitor: Client, world: World, name: str) -> None:
    """On a phone the heads of the table are not seen: the form sorts there, and says how it is sorted now."""
    listing, _ = LISTS[name]
    page = text_of(visitor.get(where(world, name)))

    heads = {key for key in listing.sorts if f'sort={key}"' in page or f'sort=-{key}"' in page}
    offered = {key for key, sort in listing.sorts.items() if sort.title}

    assert heads <= offered
    assert {key for key in offered if f'<option value="{key}"' in page} == offered
    assert f'<option value="{listing.default}" selected>' in page


@pytest.mark.parametrize("name", LISTS)
def test_what_nobody_is_called_leaves_nothing_and_says_so(visitor: Client, world: World, name: str) -> None:
    """No row, the words stay, and a link leads back to everything."""
    page = text_of(visitor.get(where(world, name), {"q": "nothing like it"}))

    assert "fits that filter" in page
    assert 'value="nothing like it"' in page
    assert f'href="{where(world, name)}">Show everything' in page


@pytest.mark.parametrize("name", [name for name, (_, form) in LISTS.items() if "state" in form.base_fields])
def test_a_choice_that_is_not_on_the_list_says_so_and_leaves_everything(
    visitor: Client, world: World, name: str
) -> None:
    """A sentence beside the field, and the rows as without it."""
    plain = visitor.get(where(world, name))
    odd = visitor.get(where(world, name), {"state": "sideways"})

    assert "That is not on the list any more" in text_of(odd)
    assert len(odd.context["page"].rows) == len(plain.context["page"].rows) > 0


def test_a_position_past_the_end_says_that_nothing_more_is_there(visitor: Client, world: World) -> None:
    """Not that there is nothing at all."""
    page = text_of(visitor.get(where(world, "batches:places"), {"after": "zzzz~999999", "sort": "name"}))

    assert "No place yet" not in page


def test_a_filter_stays_while_the_list_is_sorted_and_paged(
    visitor: Client, world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The heads, the next page and the CSV keep the words."""
    monkeypatch.setattr(lists, "PAGE", SMALL_PAGE)
    page = text_of(visitor.get(where(world, "batches:places"), {"q": "stall", "kind": "stall"}))

    assert "?q=stall&amp;kind=stall&amp;sort=code" in page
    assert "?q=stall&amp;kind=stall&amp;after=" in page
    assert "?q=stall&amp;kind=stall&amp;as=csv" in page


FILTERS: dict[str, Callable[[Any], bool]] = {
    "batches:packs?state=hold": lambda row: bool(row.on_hold),
    "batches:packs?state=sale": lambda row: row.batch.state == "released" and not row.on_hold,
    "batches:packs?state=waiting": lambda row: row.batch.state != "released",
    "batches:packs?here=1": lambda row: sum(
        one.units for one in row.balances.all() if one.place.kind in ("workshop", "stall")
    ) > 0,
    "batches:places?kind=stall": lambda row: row.kind == "stall",
    "batches:places?here=1": lambda row: sum(one.units for one in row.balances.all()) > 0,
    "batches:recipients?kind=shop": lambda row: row.kind == "shop",
    "batches:recipients?market=none": lambda row: row.market == "",
    "batches:dispatches?market=none": lambda row: row.market == "",
    "batches:complaints?kind=reaction": lambda row: row.kind == "reaction",
    "batches:complaints?state=open": lambda row: row.state == "open",
    "batches:recalls?kind=recall": lambda row: not row.rehearsal,
    "batches:recalls?kind=rehearsal": lambda row: row.rehearsal,
    "batches:recalls?state=running": lambda row: row.ended_at is None,
    "batches:recalls?state=ended": lambda row: row.ended_at is not None,
    "batches:batches?state=hold": lambda row: row.held,
    "batches:batches?state=planned": lambda row: row.state == "planned",
    "batches:batches?purpose=sale": lambda row: row.purpose == "sale",
    "labels:labels?state=approved": lambda row: row.label.state == "approved",
    "labels:labels?market=US": lambda row: row.label.market == "US",
}  # fmt: skip


@pytest.mark.parametrize("asked", FILTERS)
def test_a_choice_leaves_exactly_what_it_says(visitor: Client, world: World, asked: str) -> None:
    """Some rows, every one of them and no other."""
    open_hold(world.cast.owner, batch=world.example.batches["B2"], cause="smoke")
    name, _, query = asked.partition("?")
    every = visitor.get(where(world, name)).context["page"].rows
    wanted = [record(row) for row in every if FILTERS[asked](row)]

    left = [record(row) for row in visitor.get(f"{where(world, name)}?{query}").context["page"].rows]

    assert left == wanted
    assert left


@pytest.mark.parametrize(
    ("name", "words", "found"),
    [
        ("batches:recalls", "yearly", None),
        ("batches:recalls", "L2", None),
        ("batches:places", "slipway", ["Eelmere Slipway Shelf"]),
        ("batches:recipients", "c2@example", ["Shop C2"]),
        ("batches:complaints", "itches", None),
        ("batches:deliveries", "of the example", None),
        ("labels:sheets", "sheet 3", ["Sheet 3"]),
        ("labels:labels", "saltwort", ["Saltwort balm"]),
    ],
)
def test_words_find_what_a_row_shows(
    visitor: Client, world: World, name: str, words: str, found: list[str] | None
) -> None:
    """Whatever the size of the letters."""
    response = visitor.get(where(world, name), {"q": words})
    page = text_of(response)

    assert response.context["page"].rows
    for text in found or []:
        assert text in page
    assert found is None or len(response.context["page"].rows) == len(found)


def test_an_erased_recipient_is_sorted_and_shown_without_a_name(visitor: Client, world: World) -> None:
    """Nothing of the name is left on the page or in the CSV; the code stays."""
    person = world.example.people["C3"]
    contact = person.contact
    assert contact is not None
    erase_contact(world.cast.owner, contact=contact, why="asked for")
    url = where(world, "batches:recipients")

    shown = text_of(visitor.get(url, {"sort": "name"}))
    lines = table(visitor, f"{url}?sort=name&as=csv")

    assert "Shop C3" not in shown
    assert ">Erased<" in shown
    assert next(line for line in lines if line[0] == person.code)[2:5] == ["", "", ""]
