"""A small book for trying an upgrade on."""

from __future__ import annotations

from decimal import Decimal

from formulas.actions.formulas import save_version, start_formula
from formulas.actions.ingredients import add_ingredient
from makers.actions import By


def fill(by: By) -> None:
    """Two ingredients, a formula of two lines."""
    oil, wax = add_ingredient(by, name="Marram oil"), add_ingredient(by, name="Bee wax")
    version = start_formula(by, name="Dune balm", kind="leave-on", form="balm")
    lines = [{"ingredient": oil, "percent": Decimal(70)}, {"ingredient": wax, "percent": Decimal(30)}]
    save_version(by, version=version, phases=[{"letter": "A", "lines": lines}], edit=version.edit)
