"""The smallest records that a label can be made from: materials, a formula, a product."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from formulas.actions.formulas import (
    answer_key,
    approve_version,
    review_version,
    save_version,
    start_formula,
)
from formulas.actions.products import add_product
from formulas.models import Composition, Constituent, FormulaVersion, Ingredient, Product, Substance
from formulas.rules.catalogue import substance_by_key
from formulas.rules.composition import substance_key
from labels.actions import confirm_all
from labels.assembly import assemble_one
from labels.models import Label
from makers.actions import By
from makers.models import Maker

_numbers = itertools.count(1)


def make_substance(name: str, *, basis: str = "read", **facts: Any) -> Substance:
    """A shared reference row; with the data file's facts where it holds the name."""
    key = substance_key(name)
    known = Substance.objects.filter(maker=None, key=key).first()
    if known is not None:
        return known
    row = substance_by_key().get(key)
    given = {"cas": row.cas, "us_name": row.us_name} if row is not None else {}
    return Substance.objects.create(key=key, inci_name=name, basis=basis, **{**given, **facts})


def material(
    maker: Maker,
    name: str,
    *parts: tuple[Any, ...],
    within: Sequence[tuple[str, str]] = (),
    stated: bool = False,
    basis: str = "supplier",
    **facts: Any,
) -> Ingredient:
    """An ingredient with its composition. parts: (INCI name, percent) or (name, low, high)."""
    number = next(_numbers)
    row = Ingredient.objects.create(maker=maker, name=name, code=f"I-{number:03}", **facts)
    if parts:
        compose(row, *parts, within=within, stated=stated, basis=basis)
    return row


def compose(
    row: Ingredient,
    *parts: tuple[Any, ...],
    within: Sequence[tuple[str, str]] = (),
    stated: bool = False,
    basis: str = "supplier",
) -> Composition:
    """A further composition of an ingredient."""
    made = Composition.objects.create(
        maker=row.maker,
        ingredient=row,
        number=row.compositions.count() + 1,
        valid_from=date(2026, 1, 1),
        basis=basis,
        origin="sheet",
        allergens_stated=stated,
    )
    for name, *figures in parts:
        low, high = (figures[0], figures[-1]) if len(figures) > 1 else (None, None)
        Constituent.objects.create(
            maker=row.maker,
            composition=made,
            substance=make_substance(name),
            low=low and Decimal(low),
            typical=Decimal(figures[0]) if len(figures) == 1 else None,
            high=high and Decimal(high),
        )
    for name, high in within:
        Constituent.objects.create(
            maker=row.maker,
            composition=made,
            substance=make_substance(name),
            kind="within",
            low=Decimal(0),
            high=Decimal(high),
        )
    return made


def make_version(
    by: By,
    name: str,
    lines: Sequence[tuple[Ingredient, str, str]],
    *,
    kind: str = "leave-on",
    form: str = "balm",
    approve: bool = True,
) -> FormulaVersion:
    """A formula of (ingredient, percent, purpose) lines, approved with reasons for whatever asks."""
    version = start_formula(by, name=name, kind=kind, form=form, body_area="body")
    rows = [
        {"ingredient": ingredient, "kind": "percent", "percent": Decimal(percent), "purpose": purpose}
        for ingredient, percent, purpose in lines
    ]
    version = save_version(
        by, version=version, phases=[{"letter": "A", "name": "", "lines": rows}], edit=None
    )
    return approved(by, version) if approve else version


def approved(by: By, version: FormulaVersion) -> FormulaVersion:
    """Approve with a reason for every open point."""
    reviewed = review_version(by.maker, version)
    return approve_version(
        by, version=version, reasons={answer_key(one): "looked at" for one in reviewed.to_answer}
    )


def make_product(by: By, version: FormulaVersion, name: str = "", **facts: Any) -> Product:
    """A tin of 50 g, sold to the EU and the US."""
    given: dict[str, Any] = {
        "net_amount": Decimal(50),
        "net_unit": "g",
        "fill_g": Decimal(51),
        "shape": "round tin",
        "width_mm": Decimal(60),
        "height_mm": Decimal(25),
        "life_months": 18,
        "pao_months": 12,
        "markets": ["EU", "US"],
        "identity": "Body balm",
        "directions": "Rub a little in.",
        **facts,
    }
    return add_product(by, formula=version.formula, name=name or version.formula.name, **given)


def balm_materials(maker: Maker) -> dict[str, Ingredient]:
    """What a balm takes."""
    return {
        "wax": material(maker, "Beeswax", ("Cera Alba", "100")),
        "shea": material(maker, "Shea butter", ("Butyrospermum Parkii Butter", "100")),
        "oil": material(
            maker, "Sunflower oil", ("Helianthus Annuus Seed Oil", "99.5"), ("Tocopherol", "0.5")
        ),
    }


def make_balm(by: By, **facts: Any) -> Product:
    """A balm of three materials as a product."""
    things = balm_materials(by.maker)
    lines = [(things["oil"], "50", ""), (things["shea"], "28", ""), (things["wax"], "22", "")]
    return make_product(by, make_version(by, "Saltwort balm", lines), **facts)


def confirm_everything(by: By, label: Label) -> int:
    """Confirm each fact that waits; returns how many."""
    paper = assemble_one(label)
    assert paper is not None
    facts = [(fact.key, fact.text) for fact in paper.waiting]
    if facts:
        confirm_all(by, label=label, facts=facts, basis="CosIng and the eCFR, looked up")
    return len(facts)
