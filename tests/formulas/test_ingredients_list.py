"""The list of ingredients: filter, sort, CSV, how many queries, and finding an ingredient from elsewhere."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from batches.actions.stock import count_in
from formulas.actions.ingredients import (
    add_price,
)
from formulas.models import Ingredient
from makers.actions import By
from tests.formulas.factories_ingredients import (
    make_composition,
    make_ingredient,
    make_source,
    part,
)
from tests.formulas.pages import page, text_of, url


def test_the_list_serves_its_piece_alone(at_home: Client, by: By, furnished: Ingredient) -> None:
    """htmx gets the list without the page around it."""
    response = at_home.get(url(by, "ingredients/"), headers={"HX-Request": "true"})

    assert "Lavender oil" in text_of(response)
    assert "<html" not in text_of(response)
    assert "HX-Request" in response["Vary"]


def test_the_filter_leaves_what_was_asked_for(at_home: Client, by: By) -> None:
    """By words, role, supplier, shortness, unknown composition, and what was put away."""
    oil = make_ingredient(by, "Rosehip oil", roles=["emollient"], low_stock_g=Decimal(100))
    wax = make_ingredient(by, "Beeswax", roles=["wax"])
    make_ingredient(by, "Old stock", active=False)
    source = make_source(by, wax)
    make_composition(by, wax)

    def listed(query: str) -> set[str]:
        text = page(at_home, by, f"ingredients/?{query}")
        return {name for name in ("Rosehip oil", "Beeswax", "Old stock") if f">{name}</a>" in text}

    assert listed("") == {"Rosehip oil", "Beeswax"}
    assert listed("q=rose") == {"Rosehip oil"}
    assert listed("q=glycerin") == {"Beeswax"}
    assert listed("role=wax") == {"Beeswax"}
    assert listed(f"supplier={source.supplier.uuid}") == {"Beeswax"}
    assert listed("state=short") == {"Rosehip oil"}
    assert listed("state=unknown") == {"Rosehip oil"}
    assert listed("state=retired") == {"Old stock"}
    assert listed("q=nothing-like-it") == set()
    count_in(by, ingredient=oil, amount=Decimal(100), unit="g")
    assert listed("state=short") == {"Rosehip oil"}  # in quarantine: not free to use


def test_the_list_sorts_both_ways_and_goes_on(
    at_home: Client, by: By, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Declared sorts only; the next page starts where this one ended."""
    for name in ("Alder", "Birch", "Cedar"):
        make_ingredient(by, name)
    monkeypatch.setattr("makers.views.lists.PAGE", 2)

    text = page(at_home, by, "ingredients/?sort=-name")
    assert text.index(">Cedar<") < text.index(">Birch<")
    assert ">Alder<" not in text
    following = text.split('rel="next" href="')[1].split('"')[0].replace("&amp;", "&")
    assert ">Alder<" in page(at_home, by, f"ingredients/{following}")
    assert ">Alder<" in page(at_home, by, "ingredients/?sort=evil")


def test_the_list_says_what_is_on_hand_what_it_costs_and_what_is_known(at_home: Client, by: By) -> None:
    """Grams from the lots, the newest price of the preferred source per kilogram, the composition's state."""
    row = make_ingredient(by, "Rosehip oil", low_stock_g=Decimal(500))
    source = make_source(by, row)
    add_price(by, source=source, on=by.today(), amount=Decimal("9.20"), pack_g=Decimal(200))
    count_in(by, ingredient=row, amount=Decimal("410.05"), unit="g")

    text = page(at_home, by, "ingredients/")

    assert "410.0" in text
    assert "46.00" in text
    assert "Short" in text
    assert "Unknown" in text


def test_the_list_comes_as_csv(at_home: Client, by: By, furnished: Ingredient) -> None:
    """Everything that the filter leaves, with a name that can't be a formula of a spreadsheet."""
    make_ingredient(by, "=cmd()")

    lines = page(at_home, by, "ingredients/?as=csv").splitlines()

    assert lines[0].startswith("\ufeffcode,name")
    assert len(lines) == 3
    assert "Lavandula Angustifolia Oil" in lines[2]
    assert ",=cmd()" not in lines[1]


@pytest.mark.parametrize(
    "path", ["ingredients/", "ingredients/?as=csv", "ingredients/?state=short", "suppliers/"]
)
def test_a_list_takes_as_many_queries_for_thirty_as_for_one(at_home: Client, by: By, path: str) -> None:
    """The number of queries does not follow the number of rows."""

    def add(number: int) -> None:
        row = make_ingredient(by, f"Oil {number:02}", low_stock_g=Decimal(1))
        source = make_source(by, row)
        add_price(by, source=source, on=by.today(), amount=Decimal(1), pack_g=Decimal(100))
        make_composition(by, row, part("Glycerin", "60"), part("Aqua", "40"), source=source)

    add(0)
    count = queries(at_home, by, path)
    for number in range(1, 30):
        add(number)

    assert queries(at_home, by, path) == count


def test_the_page_takes_as_many_queries_for_thirty_compositions(
    at_home: Client, by: By, furnished: Ingredient
) -> None:
    """Sources, prices, compositions and constituents are fetched together."""
    make_composition(by, furnished, source=furnished.sources.get())
    count = queries(at_home, by, "ingredients/I-001/")

    for number in range(30):
        source = make_source(by, furnished, f"Supplier {number:02}")
        add_price(by, source=source, on=by.today(), amount=Decimal(1), pack_g=Decimal(100))
        make_composition(by, furnished, part("Glycerin", "60"), part("Aqua", "40"), source=source)

    assert queries(at_home, by, "ingredients/I-001/") <= count


def queries(client: Client, by: By, path: str) -> int:
    """How many queries a page takes."""
    client.get(url(by, path))
    with CaptureQueriesContext(connection) as found:
        page(client, by, path)
    return len(found)


# -- found from elsewhere


def test_a_code_and_a_name_lead_to_the_page(at_home: Client, by: By) -> None:
    """The search box resolves the code and finds the name."""
    make_ingredient(by, "Rosehip oil")

    scanned = at_home.get(url(by, "search/?q=i-001"))

    assert scanned.status_code in (302, 303)
    assert scanned["Location"] == url(by, "ingredients/I-001/")
    assert "Rosehip oil" in page(at_home, by, "search/?q=roseh")
