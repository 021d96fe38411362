"""The verbs of ingredients: what they are, who sells them, what is in them."""

from formulas.actions.ingredients.catalogue import copy_from_catalogue
from formulas.actions.ingredients.compositions import (
    add_composition,
    add_substance,
    confirm_composition,
    find_substance,
    supposed_composition,
)
from formulas.actions.ingredients.facts import (
    FACT_FIELDS,
    add_ingredient,
    change_ingredient,
    confirm_fact,
)
from formulas.actions.ingredients.suppliers import (
    add_price,
    add_source,
    add_supplier,
    change_supplier,
    prefer_source,
)
from formulas.actions.ingredients.uselevels import add_use_level, confirm_use_level, remove_use_level

__all__ = [
    "FACT_FIELDS",
    "add_composition",
    "add_ingredient",
    "add_price",
    "add_source",
    "add_substance",
    "add_supplier",
    "add_use_level",
    "change_ingredient",
    "change_supplier",
    "confirm_composition",
    "confirm_fact",
    "confirm_use_level",
    "copy_from_catalogue",
    "find_substance",
    "prefer_source",
    "remove_use_level",
    "supposed_composition",
]
