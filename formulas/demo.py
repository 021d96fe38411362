"""The demo's chapter on paper: what the workshop buys, what it makes, what it sells."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

from formulas.actions.formulas import approve_version, review_version, save_version, start_formula
from formulas.actions.ingredients import (
    add_composition,
    add_ingredient,
    add_price,
    add_source,
    add_supplier,
    change_ingredient,
    confirm_composition,
    confirm_fact,
    copy_from_catalogue,
    find_substance,
)
from formulas.actions.products import add_article, add_product
from formulas.demo_data.costs import write_costs
from formulas.demo_data.materials import HEAT, MATERIALS, SHEETS, SUPPLIERS, Part
from formulas.demo_data.recipes import ARTICLES, RECIPES, VARIANT, WARES, Recipe, Row
from formulas.models import FormulaVersion, Ingredient, Source, Substance
from makers.actions import By
from makers.actions.demo import DemoHouse
from makers.registries import DemoChapter, demo_chapters

SHEET = "Supplier's specification sheet, compared line by line"
LOOKED_AT = {
    "composition": "The sheet gives ranges; the list was worked out with both ends and does not change.",
    "limit": "Looked at with the highest figure of the sheet: it stays within.",
}


def register() -> None:
    """Add the chapter to the demo."""
    demo_chapters.add(DemoChapter("Ingredients and formulas", 10, build))


def build(by: By, kept: dict[str, Any], say: Callable[[str], None]) -> None:
    """Suppliers, ingredients, formulas, articles and products. Fills ``kept`` with them by key."""
    house: DemoHouse = kept["house"]
    house.clock.to_day(-428, 10)
    kept["suppliers"] = {
        key: add_supplier(by, name=name, country=country, contact=contact)
        for key, (name, country, contact) in SUPPLIERS.items()
    }
    kept["ingredients"], kept["sources"] = {}, {}
    for material in MATERIALS:
        house.clock.forward(240)
        write_material(by, kept, material)
    house.clock.to_day(-427, 9)
    for sheet in SHEETS:
        house.clock.forward(300)
        write_sheet(by, kept, sheet)
    confirm_paper(by, kept)
    kept["versions"] = {}
    for recipe in RECIPES:
        house.clock.forward(1200)
        kept["versions"][recipe.key] = write_recipe(by, kept, recipe)
    house.clock.to_day(-426, 9)
    kept["articles"] = {
        key: add_article(by, name=name, kind=kind, low_stock=low)
        for key, (name, kind, low) in ARTICLES.items()
    }
    write_products(by, kept)
    write_costs(by, kept, say)
    say(f"{len(kept['ingredients'])} ingredients from {len(SUPPLIERS)} suppliers")
    say(f"{len(RECIPES)} formulas approved")
    say(f"{len(WARES)} products")


def write_material(by: By, kept: dict[str, Any], material: Any) -> None:
    """Copy one from the catalogue, with who sells it and for how much."""
    row = copy_from_catalogue(by, key=material.key, name=material.name)
    if material.low_stock_g:
        row = change_ingredient(by, ingredient=row, low_stock_g=Decimal(material.low_stock_g))
    for number, supplier in enumerate(material.suppliers):
        source = add_source(
            by,
            ingredient=row,
            supplier=kept["suppliers"][supplier],
            article_code=f"{supplier[:2].upper()}-{len(kept['sources']) + 101}",
            preferred=number == 0,
        )
        kept["sources"][material.key, supplier] = source
        amount, pack = material.price
        if amount and number == 0:
            add_price(by, source=source, on=by.today(), amount=Decimal(amount), pack_g=Decimal(pack))
    if material.key in HEAT:
        row = change_ingredient(
            by,
            ingredient=row,
            add_below_c=Decimal(HEAT[material.key]),
            basis_source="Our own practice: stirred in just before pouring, the flash point is above it",
        )
    kept["ingredients"][row.name] = row


def write_sheet(by: By, kept: dict[str, Any], sheet: Any) -> None:
    """A composition as a supplier states it."""
    source: Source = kept["sources"][sheet.key, sheet.supplier]
    add_composition(
        by,
        ingredient=source.ingredient,
        source=source,
        basis="supplier",
        origin=f"Specification sheet of {source.supplier.name}",
        allergens_stated=sheet.allergens_stated,
        constituents=[constituent(by, part) for part in sheet.parts],
    )


def constituent(by: By, part: Part) -> dict[str, Any]:
    """One part of a sheet as the action takes it. Raises KeyError for a substance that isn't on record."""
    name, kind, *figures = part
    substance = find_substance(by, name)
    if substance is None:
        raise KeyError(name)
    low, typical, high = (Decimal(figure) if figure else None for figure in figures)
    return {"substance": substance, "kind": kind, "low": low, "typical": typical, "high": high}


def confirm_paper(by: By, kept: dict[str, Any]) -> None:
    """The owner checks the catalogue's figures against the suppliers' sheets where these state them."""
    sheeted = {sheet.key for sheet in SHEETS}
    for material in MATERIALS:
        row: Ingredient = kept["ingredients"][material.name]
        if material.key not in sheeted:
            for composition in row.compositions.all():
                confirm_composition(by, composition=composition, basis=SHEET)
        if row.shelf_life_months and "kelpwright" in material.suppliers:
            confirm_fact(by, ingredient=row, field="shelf_life_months", basis=SHEET)


def row_of(kept: Mapping[str, Any], row: Row) -> dict[str, Any]:
    """One line of a recipe as the action takes it."""
    name, percent, purpose, *leaves = row
    line: dict[str, Any] = {"ingredient": kept["ingredients"][name], "purpose": purpose}
    if leaves:
        line |= {"strained": True, "leaves": Substance.objects.get(maker=None, key=leaves[0])}
    if percent == "to 100":
        return {**line, "kind": "to_100"}
    if " pH " in percent:
        amounts, _, acidity = percent.partition(" pH ")
        low, high = (Decimal(end) for end in amounts.split("-"))
        ph_low, ph_high = (Decimal(end) for end in acidity.split("-"))
        ends = {"adjust_low": low, "adjust_high": high, "ph_low": ph_low, "ph_high": ph_high}
        return {**line, "kind": "adjust", **ends}
    return {**line, "kind": "percent", "percent": Decimal(percent)}


def write_recipe(by: By, kept: dict[str, Any], recipe: Recipe) -> FormulaVersion:
    """A formula, approved; where it makes an ingredient, that too."""
    version = start_formula(
        by,
        name=recipe.name,
        kind=recipe.kind,
        form=recipe.form,
        body_area=recipe.body_area,
        used_in_water=recipe.used_in_water,
    )
    version = save_version(
        by,
        version=version,
        phases=[
            {"letter": letter, "name": name, "lines": [row_of(kept, row) for row in rows]}
            for letter, name, rows in recipe.phases
        ],
        steps=[
            {
                "phase": phase,
                "text": text,
                "target_c": Decimal(target) if target else None,
                "min_c": Decimal(low) if low else None,
                "max_c": Decimal(high) if high else None,
                "minutes": int(minutes) if minutes else None,
            }
            for phase, text, target, low, high, minutes in recipe.steps
        ],
    )
    version = approve(by, version)
    name, months = recipe.makes
    if name:
        kept["ingredients"][name] = add_ingredient(
            by,
            name=name,
            form="liquid",
            soluble_in="oil",
            made_from=version.formula,
            shelf_life_months=months,
            low_stock_g=Decimal(500 if recipe.key == "infusion" else 50),
            basis_source="Our own stored samples",
        )
    return version


def approve(by: By, version: FormulaVersion) -> FormulaVersion:
    """Approve with a written reason for each finding that asks for one."""
    reviewed = review_version(by.maker, version, on=by.today())
    reasons = {
        f"{one.rule}|{one.subject}": next(
            (text for start, text in LOOKED_AT.items() if one.rule.startswith(start)),
            "Looked at and accepted.",
        )
        for one in reviewed.to_answer
    }
    return approve_version(by, version=version, reasons=reasons)


def write_products(by: By, kept: dict[str, Any]) -> None:
    """What is sold, in what."""
    kept["products"] = {}
    for ware in WARES:
        sizes = {"width_mm": ware.width_mm, "height_mm": ware.height_mm, "depth_mm": ware.depth_mm}
        kept["products"][ware.key] = add_product(
            by,
            formula=kept["versions"][ware.recipe].formula,
            name=ware.name,
            net_amount=Decimal(ware.net_g),
            net_unit="g",
            fill_g=Decimal(ware.fill_g),
            shape=ware.shape,
            life_months=ware.life_months,
            pao_months=ware.pao_months,
            markets=["EU", "US"],
            identity=ware.identity,
            directions=ware.directions,
            price=Decimal(ware.price),
            parts=[(kept["articles"][part], 1) for part in ware.parts],
            **{key: Decimal(size) for key, size in sizes.items() if size},
        )


def start_variant(by: By, kept: dict[str, Any]) -> FormulaVersion:
    """A variant of a formula with one ingredient in place of another, left as a draft for trials."""
    name, parent, out, instead, percent = VARIANT
    recipe = next(one for one in RECIPES if one.key == parent)
    phases = tuple(
        (letter, title, tuple((instead, percent, row[2]) if row[0] == out else row for row in rows))
        for letter, title, rows in recipe.phases
    )
    version = start_formula(
        by,
        name=name,
        kind=recipe.kind,
        form=recipe.form,
        body_area=recipe.body_area,
        parent=kept["versions"][parent],
    )
    version = save_version(
        by,
        version=version,
        phases=[
            {"letter": letter, "name": title, "lines": [row_of(kept, row) for row in rows]}
            for letter, title, rows in phases
        ],
        note="Sets harder with less wax; the slip over the skin is to be compared.",
    )
    kept["versions"]["variant"] = version
    return version
