"""Products, articles, suppliers and costs that are open in two windows at once."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from formulas.actions.formulas import start_formula
from formulas.actions.ingredients import add_supplier
from formulas.actions.products import add_article, add_product
from formulas.models import Article, Product
from makers.actions import By
from makers.http import address
from tests.formulas.sent import inputs_of, sent_back


@pytest.fixture
def product(by: By) -> Product:
    """A product with two jars to choose from."""
    for name in ("Jar", "Lid"):
        add_article(by, name=name)
    formula = start_formula(by, name="Salve", kind="leave-on", form="balm").formula
    return add_product(
        by,
        formula=formula,
        name="Salve 50",
        net_amount=Decimal(50),
        net_unit="g",
        fill_g=Decimal(51),
        pao_months=12,
    )


def twice(client: Client, there: str, first: dict[str, Any], second: dict[str, Any]) -> str:
    """Open a form in two windows and send both; the page that the second gets."""
    late = {**sent_back(client, there), **second}
    assert client.post(there, {**sent_back(client, there), **first}).status_code == 303
    return client.post(there, late).content.decode()


def test_a_product_keeps_what_the_other_window_wrote(at_home: Client, by: By, product: Product) -> None:
    """Also its parts, which are no columns."""
    there = address(by.maker, "formulas:product-change", code=product.code)
    lid = str(Article.objects.get(maker=by.maker, name="Lid").pk)

    told = twice(at_home, there, {"pao_months": "9", "part_0": lid}, {"directions": "Warm it first."})

    assert "9 months" in told.replace("\u202f", " ").replace("\u00a0", " ")
    again = inputs_of(told)
    assert (again["pao_months"], again["directions"]) == (["9"], ["Warm it first."])
    assert at_home.post(there, again).status_code == 303
    product.refresh_from_db()
    assert (product.pao_months, product.directions) == (9, "Warm it first.")
    assert [part.article.name for part in product.parts.all()] == ["Lid"]


@pytest.mark.parametrize(
    ("view", "first", "second"),
    [
        ("formulas:article", {"low_stock": "40"}, {"note": "From the second shelf"}),
        ("formulas:supplier", {"country": "IE"}, {"contact": "Ask for Ann"}),
        ("formulas:product-cost-change", {"batch_units": "24"}, {"loss_percent": "2"}),
        ("formulas:cost-basis", {"labour_per_hour": "18"}, {"overhead_percent": "12"}),
    ],
)
def test_other_records_do_too(
    at_home: Client, by: By, product: Product, view: str, first: dict[str, Any], second: dict[str, Any]
) -> None:
    """Each change form of a record says what was changed meanwhile, and holds when it is sent again."""
    supplier = add_supplier(by, name="Tern Oils")
    given: dict[str, dict[str, Any]] = {
        "formulas:article": {"code": add_article(by, name="Box").code},
        "formulas:supplier": {"uuid": supplier.uuid},
        "formulas:product-cost-change": {"code": product.code},
    }
    there = address(by.maker, view, **given.get(view, {}))

    told = twice(at_home, there, first, second)

    assert "changed in another window since you opened it" in told
    again = inputs_of(told)
    for name, value in {**first, **second}.items():
        assert again[name] == [value]
    assert at_home.post(there, again).status_code == 303
    kept = sent_back(at_home, there)
    assert {name: kept[name][0] for name in {**first, **second}} == {**first, **second}
