"""Suppliers, what they sell at what price, and use levels."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from uuid import uuid4

import pytest

from formulas.actions.ingredients import (
    add_price,
    add_source,
    add_use_level,
    change_supplier,
    confirm_use_level,
    copy_from_catalogue,
    prefer_source,
    remove_use_level,
)
from formulas.models import Supplier, UseLevel
from makers.actions import By, Refused
from tests.formulas.factories_ingredients import (
    make_ingredient,
    make_source,
    make_supplier,
)
from tests.formulas.journal import lines, newest

# -- suppliers, sources, prices


def test_the_first_source_is_the_preferred_one_and_one_alone_is(by: By) -> None:
    """Reviews always go by exactly one source."""
    row = make_ingredient(by)
    first, second = make_source(by, row), make_source(by, row)

    prefer_source(by, source=second)

    first.refresh_from_db()
    assert not first.preferred
    assert row.sources.get(preferred=True) == second


def test_an_article_of_a_supplier_is_written_once(by: By) -> None:
    """The same article again is refused; another article of the same supplier is not."""
    row = make_ingredient(by)
    source = make_source(by, row, article_code="R-10")

    with pytest.raises(Exception, match="already here"):
        add_source(by, ingredient=row, supplier=source.supplier, article_code="R-10")
    add_source(by, ingredient=row, supplier=source.supplier, article_code="R-11")

    assert row.sources.count() == 2


def test_a_supplier_is_changed_and_the_journal_says_what(by: By) -> None:
    """Only the fields that differ are written down; a repeat writes nothing."""
    supplier = make_supplier(by, "Dunlin")

    change_supplier(by, supplier=supplier, name="Dunlin Oils", country="")
    count = lines(by)
    change_supplier(by, supplier=supplier, name="Dunlin Oils")

    assert newest(by).change["fields"] == "name"
    assert lines(by) == count
    assert Supplier.objects.get(pk=supplier.pk).name == "Dunlin Oils"


def test_a_price_is_in_the_makers_currency_and_written_once(by: By) -> None:
    """The same form twice is one price; a pack of nothing is refused."""
    source, key = make_source(by, make_ingredient(by)), uuid4()
    for _ in range(2):
        price = add_price(
            by,
            source=source,
            on=date(2025, 4, 1),
            amount=Decimal("46.00"),
            pack_g=Decimal(1000),
            entry_key=key,
        )

    assert price.currency == by.maker.currency
    assert source.prices.count() == 1
    with pytest.raises(Exception, match="above 0 g"):
        add_price(by, source=source, on=date(2025, 4, 1), amount=Decimal(1), pack_g=Decimal(0))


# -- use levels


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [(None, None, "at least one end"), ("3", "2", "above the upper"), (None, "101", "between 0 and 100")],
)
def test_a_use_level_is_a_range(by: By, low: str | None, high: str | None, words: str) -> None:
    """It has an end, runs upwards and stays within 0 to 100 %."""
    ends = [None if one is None else Decimal(one) for one in (low, high)]

    with pytest.raises(Exception, match=words):
        add_use_level(by, ingredient=make_ingredient(by), source="sheet", low=ends[0], high=ends[1])


def test_a_use_level_is_confirmed_and_taken_off_with_a_reason(by: By) -> None:
    """The journal keeps what it was."""
    row = copy_from_catalogue(by, key="cocoa-butter")
    level = row.use_levels.get()

    confirmed = confirm_use_level(by, level=level, basis="Sheet of 2025-02")
    assert (confirmed.basis, confirmed.source, confirmed.high) == (
        "confirmed",
        "Sheet of 2025-02",
        Decimal(80),
    )
    with pytest.raises(Refused, match="Say why"):
        remove_use_level(by, level=level, why=" ")
    remove_use_level(by, level=level, why="The supplier changed it")
    remove_use_level(by, level=level, why="The supplier changed it")

    assert not UseLevel.objects.filter(pk=level.pk).exists()
    assert Decimal(newest(by).change["high"]) == 80
    assert newest(by).why == "The supplier changed it"
