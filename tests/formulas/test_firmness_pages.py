"""Firmness in heat on screen: it follows what is typed, and a product takes the figure that it suggests."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from formulas.actions.formulas import save_version, start_formula
from formulas.actions.ingredients import copy_from_catalogue
from formulas.actions.products import add_product, change_product
from formulas.models import FormulaVersion, Ingredient, Product
from makers.actions import By
from makers.models import JournalEntry
from tests.cast import Cast
from tests.formulas.factories_ingredients import make_ingredient
from tests.formulas.pages import page, text_of, url
from tests.formulas.sent import sent_back

D = Decimal
DESK = "formulas/F-001/"


def write_bar(by: By, form: str = "bar") -> FormulaVersion:
    """60 % cocoa butter, 25 % shea, the rest sunflower oil: the worked blend of the rules' own test."""
    version = start_formula(by, name="Reed bar", kind="leave-on", form=form, body_area="body")
    cocoa, shea, oil = (
        copy_from_catalogue(by, key=key) for key in ("cocoa-butter", "shea-butter", "sunflower-oil")
    )
    lines: list[dict[str, Any]] = [
        {"ingredient": cocoa, "percent": D(60)},
        {"ingredient": shea, "percent": D(25)},
        {"ingredient": oil, "kind": "to_100"},
    ]
    phases = [{"letter": "A", "name": "Melt", "lines": lines}]
    return save_version(by, version=version, phases=phases, edit=version.edit)


@pytest.fixture
def bar(by: By) -> FormulaVersion:
    """The bar."""
    return write_bar(by)


@pytest.fixture
def product(by: By, bar: FormulaVersion) -> Product:
    """The bar as it is sold, with nothing said of heat."""
    return add_product(
        by, formula=bar.formula, name="Reed bar", net_amount=D(60), net_unit="g", fill_g=D(60), markets=["EU"]
    )


def test_the_desk_draws_the_band_and_writes_it_in_a_table(
    at_home: Client, by: By, bar: FormulaVersion
) -> None:
    """Shukla's cocoa butter (1995; from memory) and remembered shea: 29 to 55 % at 25 °C with 15 % liquid oil."""
    shown = page(at_home, by, DESK)

    assert "Firmness in heat" in shown
    assert 'aria-labelledby="firmness-title"' in shown
    assert shown.count('<th scope="row">2') + shown.count('<th scope="row">3') >= 4
    assert "Spreadable or firmer up to <b>30 °C</b>" in shown
    assert "For Shea butter from remembered ranges, no table traced." in shown


def test_it_follows_what_is_typed_before_anything_is_saved(
    at_home: Client, by: By, bar: FormulaVersion
) -> None:
    """With little cocoa butter and much oil the bar is soft in a cool room."""
    data = sent_back(at_home, url(by, DESK))
    data["line-0-percent"] = ["5"]
    answer = at_home.post(url(by, DESK), {**data, "do": ["reckon"]}, headers={"HX-Request": "true"})

    assert "At its softest it is not even spreadable at 20 °C." in text_of(answer)
    bar.refresh_from_db()
    assert bar.lines.get(ingredient__name="Cocoa butter").percent == 60


def test_a_fat_without_a_table_is_named_with_how_much_is_covered(at_home: Client, by: By) -> None:
    """A tenth of it is a butter that no table knows."""
    version = start_formula(by, name="Reed bar", kind="leave-on", form="bar", body_area="body")
    unknown: Ingredient = make_ingredient(
        by, "Marsh butter", roles=["butter"], form="soft solid", soluble_in="oil"
    )
    lines = [
        {"ingredient": copy_from_catalogue(by, key="cocoa-butter"), "percent": D(90)},
        {"ingredient": unknown, "kind": "to_100"},
    ]
    save_version(
        by, version=version, phases=[{"letter": "A", "name": "Melt", "lines": lines}], edit=version.edit
    )
    shown = page(at_home, by, DESK)

    assert "Figures for 90 % of the fats and oils." in shown
    assert "as anything from liquid to solid, for want of a table" in shown


def test_a_cream_shows_none(at_home: Client, by: By) -> None:
    """Water carries it. The place stays, hidden, for an edit that needs it."""
    write_bar(by, "cream")
    shown = page(at_home, by, DESK)

    assert "firmness-title" not in shown
    assert 'aria-labelledby="h-firmness" hidden' in shown


def test_a_product_takes_the_suggested_figure_by_one_button(
    at_home: Client, by: By, product: Product
) -> None:
    """Common practice, no source: not sold or posted when days are warmer than it bears. The journal has it."""
    shown = page(at_home, by, f"products/{product.code}/")
    assert (
        '<button class="do second" name="not_above_c" value="30">Not sold or sent above 30 °C</button>'
        in shown
    )

    answer = at_home.post(url(by, f"products/{product.code}/heat/"), {"not_above_c": "30"})
    assert answer.status_code == 303
    product.refresh_from_db()
    assert product.not_above_c == 30
    entry = JournalEntry.objects.filter(maker=by.maker, action="product.changed").latest("number")
    assert "not_above_c" in str(entry.change)
    after = page(at_home, by, f"products/{product.code}/")
    assert "not sold or sent above 30 °C" in after
    assert 'name="not_above_c"' not in after


def test_a_figure_warmer_than_the_estimate_bears_is_cautioned(
    at_home: Client, by: By, product: Product
) -> None:
    """The maker's figure stays: it may rest on a trial."""
    change_product(by, product=product, not_above_c=D(34))
    shown = page(at_home, by, f"products/{product.code}/")

    assert (
        "Sold and sent up to 34 °C, yet by the estimate it is surely spreadable or firmer only up to 30 °C"
        in shown
    )
    product.refresh_from_db()
    assert product.not_above_c == 34


@pytest.mark.parametrize("wrong", ["", "warm", "400"])
def test_what_is_no_heat_is_asked_again(at_home: Client, by: By, product: Product, wrong: str) -> None:
    """With what was typed in the field."""
    answer = at_home.post(url(by, f"products/{product.code}/heat/"), {"not_above_c": wrong})

    assert answer.status_code == 200
    assert f'value="{wrong}"' in text_of(answer) or not wrong
    product.refresh_from_db()
    assert product.not_above_c is None


def test_a_reader_sees_it_and_is_offered_no_button(cast: Cast, client: Client, product: Product) -> None:
    """Nor may one send it."""
    client.force_login(cast.reader.user)
    path = f"/{product.maker.slug}/products/{product.code}/"

    assert "Firmness in heat" in text_of(client.get(path))
    assert 'name="not_above_c"' not in text_of(client.get(path))
    assert client.post(f"{path}heat/", {"not_above_c": "30"}).status_code == 403
