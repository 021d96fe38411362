"""Writing down article prices, exchange rates, work and overhead, and what a product's cost rests on."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from formulas.actions.costs import (
    add_article_price,
    add_rate,
    change_rate,
    set_cost_basis,
    set_product_cost,
)
from formulas.actions.formulas import start_formula
from formulas.actions.products import add_article, add_product
from formulas.models import ArticlePrice, CostBasis, ExchangeRate, Product, ProductCost
from makers.actions import By
from makers.models import Role
from tests.cast import Cast
from tests.formulas.journal import lines, newest, refusal

D = Decimal


def make_product(by: By, name: str = "Hand balm") -> Product:
    """A product of an empty formula."""
    version = start_formula(by, name=f"{name} formula", kind="leave-on", form="balm", body_area="body")
    return add_product(
        by,
        formula=version.formula,
        name=name,
        net_amount=D(50),
        net_unit="g",
        fill_g=D(51),
        price=D(12),
        markets=["EU"],
    )


def test_an_article_price_is_written_once_in_the_makers_currency(by: By) -> None:
    """The same form twice is one price; the journal has the figures."""
    article, key = add_article(by, name="Tin"), uuid4()
    for _ in range(2):
        row = add_article_price(
            by, article=article, on=by.today(), amount=D("110.00"), pieces=100, entry_key=key
        )

    assert ArticlePrice.objects.get() == row
    assert row.currency == "EUR"
    assert newest(by).change["pieces"] == 100
    assert newest(by).subject == article.uuid


def test_letters_that_are_no_currency_are_refused(by: By) -> None:
    """Beside their field."""
    article = add_article(by, name="Tin")

    with pytest.raises(ValidationError) as found:
        add_article_price(by, article=article, on=by.today(), amount=D(1), pieces=1, currency="XQZ")

    assert "currency" in found.value.message_dict
    with pytest.raises(ValidationError):
        add_article_price(by, article=article, on=by.today(), amount=D(1), pieces=0)


def test_a_rate_stands_once_a_day_and_is_put_right_not_doubled(by: By) -> None:
    """A second one of that day names the first; changing it says what it was."""
    row = add_rate(by, on=by.today(), currency="gbp", rate=D("1.15"), source="bank")

    with pytest.raises(ValidationError) as found:
        add_rate(by, on=by.today(), currency="GBP", rate=D("1.16"))
    assert "1 GBP = 1.15 EUR" in refusal(found)
    change_rate(by, exchange_rate=row, rate=D("1.16"), source="bank")
    count = lines(by)
    change_rate(by, exchange_rate=row, rate=D("1.16"), source="bank")

    assert ExchangeRate.objects.get().rate == D("1.16")
    assert newest(by).change["was"] == "1.150000"
    assert lines(by) == count


def test_a_rate_of_ones_own_currency_or_of_a_day_to_come_is_refused(by: By) -> None:
    """Each beside its field."""
    with pytest.raises(ValidationError) as own:
        add_rate(by, on=by.today(), currency="EUR", rate=D(1))
    with pytest.raises(ValidationError) as ahead:
        add_rate(by, on=by.today() + timedelta(1), currency="GBP", rate=D(1))
    with pytest.raises(ValidationError):
        add_rate(by, on=by.today(), currency="GBP", rate=D(0))

    assert list(own.value.message_dict) == ["currency"]
    assert list(ahead.value.message_dict) == ["on"]
    assert not ExchangeRate.objects.exists()


def test_work_and_overhead_are_one_record_a_maker(by: By) -> None:
    """Changed in place; a repeat writes nothing; nothing known is None, not 0."""
    set_cost_basis(by, labour_per_hour=D(24), overhead_percent=None)
    count = lines(by)
    set_cost_basis(by, labour_per_hour=D(24), overhead_percent=None)
    assert lines(by) == count
    set_cost_basis(by, labour_per_hour=D(24), overhead_percent=D(12))

    row = CostBasis.objects.get()
    assert (row.labour_per_hour, row.overhead_percent) == (24, 12)
    assert newest(by).change["fields"] == "overhead percent"


def test_what_a_cost_rests_on_and_the_price_are_written_together(by: By) -> None:
    """One entry about the product; what isn't given stays."""
    product = make_product(by)
    set_product_cost(by, product=product, batch_units=40, wanted_margin=D(60))
    set_product_cost(by, product=product, price=D("14.50"), loss_percent=D(3))

    row = ProductCost.objects.get()
    product.refresh_from_db()
    assert (row.batch_units, row.wanted_margin, row.loss_percent, row.batch_minutes) == (40, 60, 3, None)
    assert product.price == D("14.50")
    assert newest(by).subject == product.uuid
    assert newest(by).change["price"] == "14.50"


@pytest.mark.parametrize(
    "fields",
    [{"loss_percent": D(100)}, {"wanted_margin": D(100)}, {"batch_units": 0}, {"batch_minutes": D(-1)}],
)
def test_figures_out_of_bounds_are_refused(by: By, fields: dict[str, Decimal]) -> None:
    """Nothing is written."""
    product = make_product(by)

    with pytest.raises(ValidationError):
        set_product_cost(by, product=product, **fields)
    assert not ProductCost.objects.exists()


def test_a_reader_writes_none_of_it_and_nobody_writes_anothers(cast: Cast) -> None:
    """Refused before anything is looked up."""
    product = make_product(cast.owner)
    reader = replace(cast.owner, role=Role.READER)

    with pytest.raises(PermissionDenied):
        set_product_cost(reader, product=product, batch_units=1)
    with pytest.raises(PermissionDenied):
        set_cost_basis(reader, labour_per_hour=D(1), overhead_percent=None)
    with pytest.raises(PermissionDenied):
        add_rate(reader, on=cast.owner.today(), currency="GBP", rate=D(1))
    with pytest.raises(Product.DoesNotExist):
        set_product_cost(cast.stranger, product=product, batch_units=1)
