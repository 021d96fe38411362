"""What the demo's workshop pays, and what its products cost. Invented: figures are plausible, nobody's list."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any, NamedTuple

from formulas.actions.costs import add_article_price, add_rate, set_cost_basis, set_product_cost
from formulas.actions.ingredients import add_price
from makers.actions import By

PRICES = (
    # material, supplier, days before the book was opened, amount, currency, g in the pack
    ("beeswax", "kelpwright", 160, "18.90", "EUR", "1000"),
    ("shea-butter", "kelpwright", 160, "31.50", "EUR", "3000"),
    ("candelilla-wax", "kelpwright", 20, "26.40", "EUR", "1000"),
    ("fractionated-coconut-oil", "lindenquist", 20, "12.60", "EUR", "1000"),
    ("sweet-almond-oil", "lindenquist", 20, "15.20", "EUR", "1000"),
    ("emulsifying-wax-non-ionic", "lindenquist", 20, "13.90", "EUR", "1000"),
    ("cetearyl-alcohol", "lindenquist", 20, "11.50", "EUR", "1000"),
    ("purified-water", "merrowmere", 20, "6.00", "EUR", "5000"),
    ("glycerin", "merrowmere", 20, "7.80", "EUR", "1000"),
    ("aloe-juice", "merrowmere", 20, "9.90", "EUR", "1000"),
    ("xanthan-gum", "merrowmere", 20, "8.40", "EUR", "250"),
    ("allantoin", "merrowmere", 20, "6.20", "EUR", "100"),
    ("provitamin-b5", "merrowmere", 20, "11.80", "EUR", "200"),
    ("benzyl-alcohol-dehydroacetic-acid-blend", "merrowmere", 20, "16.90", "EUR", "250"),
    ("disodium-edta", "merrowmere", 20, "5.40", "EUR", "100"),
    ("lactic-acid-80-90", "merrowmere", 20, "7.20", "EUR", "250"),
    ("peppermint-oil", "fougerelune", 20, "14.50", "EUR", "100"),
    ("sugar", "petrel", 20, "3.90", "GBP", "3000"),
    ("salt", "petrel", 20, "4.20", "GBP", "3000"),
)
"""White clay has no price, so that one product shows what an incomplete cost looks like."""

RATES = ((170, "GBP", "1.1740"), (30, "GBP", "1.1685"))

ARTICLE_PRICES = (
    ("tin", 160, "57.00", 100),
    ("tin", 20, "62.00", 100),
    ("jar", 20, "39.00", 50),
    ("bigjar", 20, "32.40", 24),
    ("box", 20, "34.00", 100),
    ("labels", 20, "62.50", 1000),
)

LABOUR_PER_HOUR, OVERHEAD = "22.00", "15"


class Making(NamedTuple):
    """A product's units of a usual batch, minutes, loss %, wanted margin %, wanted markup %; "" for nothing said."""

    units: int
    minutes: str
    loss: str
    margin: str = ""
    markup: str = ""


MAKINGS = {
    "balm": Making(46, "110", "2.5", margin="75"),
    "bar": Making(24, "95", "3", margin="75"),
    "cream": Making(38, "160", "4", markup="300"),
    "scrub": Making(20, "80", "1.5", margin="60"),
}
"""The bar is sold for less than its wanted margin asks."""


def write_costs(by: By, kept: dict[str, Any], say: Callable[[str], None]) -> None:
    """Prices, rates, work and overhead, and what each product's cost rests on."""
    clock = kept["house"].clock
    opened = clock.day(-426)
    clock.to_day(-426, 11)

    def day(before: int) -> Any:
        return opened - (clock.day(0) - clock.day(-before))

    for before, currency, rate in RATES:
        source = "The bank's rate on the statement of that day"
        add_rate(by, on=day(before), currency=currency, rate=Decimal(rate), source=source)
    for key, supplier, before, amount, currency, pack in PRICES:
        clock.forward(60)
        add_price(
            by,
            source=kept["sources"][key, supplier],
            on=day(before),
            amount=Decimal(amount),
            currency=currency,
            pack_g=Decimal(pack),
        )
    for article, before, amount, pieces in ARTICLE_PRICES:
        add_article_price(
            by, article=kept["articles"][article], on=day(before), amount=Decimal(amount), pieces=pieces
        )
    set_cost_basis(by, labour_per_hour=Decimal(LABOUR_PER_HOUR), overhead_percent=Decimal(OVERHEAD))
    for product, making in MAKINGS.items():
        clock.forward(120)
        set_product_cost(
            by,
            product=kept["products"][product],
            batch_units=making.units,
            batch_minutes=Decimal(making.minutes),
            loss_percent=Decimal(making.loss),
            wanted_margin=Decimal(making.margin) if making.margin else None,
            wanted_markup=Decimal(making.markup) if making.markup else None,
        )
    say(f"What {len(MAKINGS)} products cost, one of them under its margin")
