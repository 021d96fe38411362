"""The words of the list of ingredients, what is short, and how other pages find ingredients."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.models import Ingredient
from formulas.overview import short_keys, stock_of
from makers import registries
from makers.actions import By
from makers.registries import Registry, StockSource
from tests.cast import Cast
from tests.formulas.factories_ingredients import (
    make_composition,
    make_ingredient,
    make_source,
    make_supplier,
    part,
)


def test_the_words_of_the_list_find_theirs_and_no_other(by: By, cast: Cast) -> None:
    """Each word brings the rows that it means, and never another maker's."""
    oil = make_ingredient(by, "Rosehip oil", roles=["emollient"])
    wax = make_ingredient(by, "Beeswax", roles=["wax", "thickener"])
    old = make_ingredient(by, "Old stock", active=False)
    make_composition(by, oil, part("Tocopherol", "100"))
    source = make_source(by, wax)
    make_ingredient(cast.stranger, "Beeswax", roles=["wax"])
    rows = Ingredient.objects.for_maker(by.maker)

    assert set(rows.in_use()) == {oil, wax}
    assert set(rows.put_away()) == {old}
    assert set(rows.with_role("thickener")) == {wax}
    assert set(rows.sold_by(source.supplier)) == {wax}
    assert set(rows.found_by("tocoph")) == {oil}
    assert set(rows.found_by("i-002")) == {wax}
    assert set(rows.of_unknown_composition()) == {wax, old}
    assert set(rows.among([oil.pk])) == {oil}


def test_short_is_what_is_free_below_the_level(by: By, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stock comes from the worlds that keep it; at the level is not short, and rejected grams don't count."""
    low, level, none = (
        make_ingredient(by, low_stock_g=Decimal(100)),
        make_ingredient(by, low_stock_g=Decimal(100)),
        make_ingredient(by),
    )
    stock: Registry[StockSource] = Registry("ingredient_stock")
    on_hand = {low.pk: Decimal(500), level.pk: Decimal(100)}
    free = {low.pk: Decimal("99.9"), level.pk: Decimal(100)}
    stock.add(StockSource("shelf", 1, lambda maker, keys: on_hand, lambda maker, keys: free))
    monkeypatch.setattr("formulas.overview.ingredient_stock", stock)

    assert short_keys(by.maker) == [low.pk]
    found = stock_of(by.maker, [low.pk, none.pk])
    assert (found[low.pk].on_hand, found[low.pk].free) == (Decimal(500), Decimal("99.9"))
    assert found[none.pk].on_hand == 0


def test_without_a_world_that_keeps_stock_it_is_not_known(by: By, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is said to be zero where nobody counts."""
    monkeypatch.setattr("formulas.overview.ingredient_stock", Registry[StockSource]("ingredient_stock"))

    row = make_ingredient(by, low_stock_g=Decimal(5))

    assert stock_of(by.maker, [row.pk])[row.pk].on_hand is None
    assert short_keys(by.maker) == []


def test_the_registries_know_ingredients(by: By) -> None:
    """A code leads to the page, names are found, the journal has its sentences, the export its tables."""
    row = make_ingredient(by, "Rosehip oil")
    supplier = make_supplier(by, "Rosehip and Sons")
    make_composition(by, row, part("Tocopherol", "100"))

    found = {hit.title for hit in registries.search_sources["ingredients"].find(by.maker, "rosehip", 9)}
    inside = [hit.title for hit in registries.search_sources["ingredients"].find(by.maker, "tocopherol", 9)]

    assert found == {row.name, supplier.name}
    assert inside == [row.name, "What contains Tocopherol"]
    assert "ingredient" in registries.code_kinds
    assert registries.navigation["ingredients"].view == "formulas:ingredients"
    order = [table.model for table in registries.export_tables if table.model.startswith("formulas.")]
    assert order.index("formulas.Ingredient") < order.index("formulas.Source")
    assert order.index("formulas.Source") < order.index("formulas.Composition")
    assert order.index("formulas.Composition") < order.index("formulas.Constituent")
