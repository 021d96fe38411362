"""Use levels as records hold them: the market and the category that each is for, against what a formula says."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.actions.formulas import review_version
from formulas.actions.ingredients import add_use_level
from formulas.actions.products import add_product
from formulas.models import FormulaVersion
from makers.actions import By
from tests.formulas.factories_ingredients import make_composition, make_ingredient, part
from tests.formulas.test_formula_actions import line, start

D = Decimal


@pytest.fixture
def oily(by: By) -> FormulaVersion:
    """An oil of which a supplier allows 5 % in Australia, at 79.5 %."""
    oil, wax = make_ingredient(by, "Carrier oil"), make_ingredient(by, "Wax")
    make_composition(by, oil, part("Glycerin", "100"))
    make_composition(by, wax, part("Cera Alba", "100"))
    add_use_level(by, ingredient=oil, high=D(5), market="AU", source="Sheet of 2026", basis="supplier")
    return start(by, line(oil, "79.5"), line(wax, "20.5"), name="Balm")


def level_findings(by: By, version: FormulaVersion) -> list[tuple[str, str]]:
    """Severity and rule of what the use levels say."""
    found = review_version(by.maker, version).findings
    return [(one.severity, one.rule) for one in found if one.rule.startswith("uselevels")]


def sell(by: By, version: FormulaVersion, name: str, markets: list[str]) -> None:
    """A product of the formula."""
    add_product(
        by,
        formula=version.formula,
        name=name,
        net_amount=D(30),
        net_unit="g",
        fill_g=D(31),
        markets=markets,
    )


def test_a_level_of_a_market_counts_where_its_products_are_sold(by: By, oily: FormulaVersion) -> None:
    """EU and US: a note. With a second product for Australia: a stop."""
    sell(by, oily, "Balm in a tin", ["EU", "US"])
    assert level_findings(by, oily) == [("note", "uselevels.elsewhere")]

    sell(by, oily, "Balm for export", ["AU"])
    assert level_findings(by, oily) == [("stop", "uselevels.high")]


@pytest.mark.parametrize(("markets", "severity"), [(["EU"], "note"), (["EU", "AU"], "stop")])
def test_without_a_product_the_makers_markets_count(
    by: By, oily: FormulaVersion, markets: list[str], severity: str
) -> None:
    """And for a product that says no market."""
    by.maker.markets = markets

    assert [found for found, _ in level_findings(by, oily)] == [severity]

    sell(by, oily, "Balm in a tin", [])
    assert [found for found, _ in level_findings(by, oily)] == [severity]
