"""The list of lots: filtered, found by words, sorted, paged, as CSV and as a piece of the page."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from batches.actions.stock import open_hold, waste_lot
from makers.actions import By
from tests.batches.pages import text_of, url
from tests.batches.stock.factories_stock import (
    in_days,
    line,
    make_article,
    make_ingredient,
    make_lot,
    receive,
)


def test_the_list_shows_the_shelf_first_to_expire_first(at_home: Client, by: By) -> None:
    """Used up is left out, no date comes last."""
    make_lot(by, code="NO-DATE")
    make_lot(by, code="LATE", good_until=in_days(by, 200))
    make_lot(by, code="SOON", good_until=in_days(by, 12), released=True)
    waste_lot(by, lot=make_lot(by, code="GONE"), amount=Decimal(1000), why="x")

    text = text_of(at_home.get(url(by, "lots")))

    assert text.index("SOON") < text.index("LATE") < text.index("NO-DATE")
    assert "GONE" not in text
    assert "12 days" in text


@pytest.mark.parametrize(
    ("state", "shown"),
    [
        ("quarantine", {"WAITS"}),
        ("hold", {"HELD"}),
        ("expiring", {"SOON"}),
        ("expired", {"PAST"}),
        ("used", {"GONE"}),
        ("all", {"WAITS", "HELD", "SOON", "PAST", "GONE"}),
        ("nonsense", {"WAITS", "HELD", "SOON", "PAST"}),
    ],
)
def test_the_list_is_filtered(at_home: Client, by: By, state: str, shown: set[str]) -> None:
    """By what is to be done; a word that is no choice shows the shelf."""
    make_lot(by, code="WAITS")
    open_hold(by, lot=make_lot(by, code="HELD", released=True), cause="smell")
    make_lot(by, code="SOON", good_until=in_days(by, 60), released=True)
    make_lot(by, code="PAST", good_until=in_days(by, -1), released=True)
    waste_lot(by, lot=make_lot(by, code="GONE", released=True), amount=Decimal(1000), why="x")

    page = at_home.get(url(by, "lots"), {"state": state}).content.decode()

    assert shown == {code for code in ("WAITS", "HELD", "SOON", "PAST", "GONE") if f">{code}<" in page}


def test_the_list_finds_by_words(at_home: Client, by: By) -> None:
    """A supplier's lot number leads to the lot."""
    make_lot(by, code="MINE", supplier_lot="KX-77")
    make_lot(by, code="OTHER")

    text = text_of(at_home.get(url(by, "lots"), {"q": "kx-7"}))

    assert "MINE" in text
    assert "OTHER" not in text


def test_an_empty_shelf_says_what_fills_it(at_home: Client, by: By) -> None:
    """One sentence with the links; a filter that fits nothing says that instead."""
    assert "No lot yet. Receive a delivery" in text_of(at_home.get(url(by, "lots")))

    make_lot(by)

    assert "No lot fits that filter" in text_of(at_home.get(url(by, "lots"), {"q": "zzz"}))


@pytest.mark.parametrize(
    "sort", ["until", "-until", "material", "-left", "code", "-received", "nonsense", "--until"]
)
def test_pages_of_the_list_follow_each_other(at_home: Client, by: By, sort: str) -> None:
    """Every lot on one page and none on two, whatever the sort, lots without a date among them."""
    oil = make_ingredient(by.maker)
    for number in range(0, 60, 2):
        dated: dict[str, Any] = {"good_until": in_days(by, number % 8)} if number % 4 else {}
        receive(by, line(oil, str(1 + number % 6), **dated), line(make_article(by.maker), "3"))
    seen: list[str] = []
    address_of_page = f"{url(by, 'lots')}?sort={sort}"

    for _ in range(3):
        page = at_home.get(address_of_page).content.decode()
        seen += re.findall(r'class="code" href="[^"]*/lots/([^/]+)/"', page)
        following = re.search(r'rel="next" href="([^"]+)"', page)
        if not following:
            break
        address_of_page = url(by, "lots") + following.group(1).replace("&amp;", "&")

    assert len(seen) == len(set(seen)) == 60


def test_the_list_as_csv_is_whole(at_home: Client, by: By) -> None:
    """Every lot of the filter, amounts as figures; cells that begin like a formula are made harmless."""
    make_lot(by, make_ingredient(by.maker, "=cmd()"), amount="2.5", unit="kg", code="X-1")

    response = at_home.get(url(by, "lots"), {"as": "csv"})

    assert response["Content-Type"].startswith("text/csv")
    row = response.content.decode().splitlines()[1]
    assert "X-1" in row
    assert "2500.0000,g" in row
    assert ",=cmd" not in row


def test_htmx_gets_the_list_alone(at_home: Client, by: By) -> None:
    """The fragment is what the page includes."""
    make_lot(by, code="MINE")

    response = at_home.get(url(by, "lots"), headers={"HX-Request": "true"})

    assert b"<html" not in response.content
    assert b"MINE" in response.content


@pytest.mark.parametrize("count", [1, 30])
def test_the_list_asks_the_same_number_of_questions(
    at_home: Client, by: By, count: int, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    """One lot or thirty."""
    receive(by, *[line(make_ingredient(by.maker)) for _ in range(count)])

    with django_assert_max_num_queries(8):
        at_home.get(url(by, "lots"))
