"""The smallest formulas and batches, brought by the actions to the state that a test is about."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from batches.actions.making import (
    START_CHECKS,
    finish_batch,
    lots_for,
    plan_batch,
    release_batch,
    start_batch,
    weigh,
    yield_output,
)
from batches.actions.stock import decide_lot
from batches.models import Batch, BatchLine, Lot, Weighing
from formulas.actions.formulas import answer_key, approve_version, review_version, save_version, start_formula
from formulas.models import FormulaVersion, Ingredient, Product
from makers.actions import By
from makers.models import Maker, Membership, Role, Scale
from tests.batches.stock.factories_stock import make_ingredient, make_lot
from tests.cast import PASSWORD, make_scale

_numbers = itertools.count(1)
ALL_YES = [(question, True, "") for question in START_CHECKS]


def scale_of(maker: Maker) -> Scale:
    """The maker's 0.1 g scale."""
    return Scale.objects.filter(maker=maker).first() or make_scale(maker)


def percent_line(ingredient: Ingredient, percent: str, **fields: Any) -> dict[str, Any]:
    """A line of a formula."""
    return {"ingredient": ingredient, "kind": "percent", "percent": Decimal(percent), **fields}


def adjust_line(ingredient: Ingredient, low: str, high: str, **fields: Any) -> dict[str, Any]:
    """A line that is added as needed."""
    return {
        "ingredient": ingredient,
        "kind": "adjust",
        "adjust_low": Decimal(low),
        "adjust_high": Decimal(high),
        **fields,
    }


def make_version(
    by: By,
    *lines: Mapping[str, Any],
    name: str = "",
    steps: Sequence[Mapping[str, Any]] = (),
    approve: bool = True,
    form: str = "balm",
) -> FormulaVersion:
    """A version in one phase: 70 % of an oil and 30 % of a wax unless lines are given."""
    if not lines:
        lines = (
            percent_line(make_ingredient(by.maker, f"Plum kernel oil {next(_numbers)}"), "70"),
            percent_line(make_ingredient(by.maker, f"Beeswax {next(_numbers)}"), "30"),
        )
    version = start_formula(
        by, name=name or f"Reed balm {next(_numbers)}", kind="leave-on", form=form, body_area="body"
    )
    phases = [{"letter": "A", "name": "Melt", "lines": list(lines)}]
    version = save_version(by, version=version, phases=phases, steps=list(steps))
    return approved(by, version) if approve else version


def approved(by: By, version: FormulaVersion) -> FormulaVersion:
    """Approve with a reason for whatever asks for one."""
    reviewed = review_version(by.maker, version)
    reasons = {answer_key(one): "looked at" for one in reviewed.to_answer}
    return approve_version(by, version=version, reasons=reasons)


def make_product(version: FormulaVersion, **fields: Any) -> Product:
    """A tin of 50 g."""
    given = {
        "net_amount": Decimal(50),
        "net_unit": "g",
        "fill_g": Decimal(50),
        "life_months": 24,
        "markets": [],
        **fields,
    }
    number = next(_numbers)
    return Product.objects.create(
        maker=version.maker, formula=version.formula, code=f"P-{number:03}", name=f"Tin {number}", **given
    )


def make_plan(by: By, version: FormulaVersion | None = None, **fields: Any) -> Batch:
    """A planned batch of 1 000 g for sale."""
    given: dict[str, Any] = {
        "purpose": "sale",
        "scale": scale_of(by.maker),
        "total_g": Decimal(1000),
        **fields,
    }
    if given.get("units"):
        given.pop("total_g")
    return plan_batch(by, version=version or make_version(by), **given)


def make_making(by: By, version: FormulaVersion | None = None, **fields: Any) -> Batch:
    """A batch on the bench."""
    return start_batch(by, batch=make_plan(by, version, **fields), checks=ALL_YES)


def line_at(batch: Batch, position: int = 1) -> BatchLine:
    """A line by its number."""
    line: BatchLine = BatchLine.objects.select_related("ingredient", "rework_lot").get(
        batch=batch, position=position
    )
    return line


def lot_for(by: By, line: BatchLine, amount: str = "1000", **fields: Any) -> Lot:
    """A released lot that a line may take."""
    return make_lot(by, line.ingredient, amount, **{"released": True, **fields})


def weigh_line(by: By, batch: Batch, position: int = 1, **fields: Any) -> Weighing:
    """Weigh a line to its plan, from the first lot that holds enough, or a new one, unless one is given."""
    line = line_at(batch, position)
    given: dict[str, Any] = {"grams": line.planned_g, **fields}
    if "lot" not in given:
        first = next(iter(lots_for(by.maker, line, by.today())), None)
        given["lot"] = first if first is not None and first.on_hand >= given["grams"] else lot_for(by, line)
        if first is not None and first != given["lot"]:
            given.setdefault("why", "The first holds too little.")
    return weigh(by, batch=batch, line=line, **given)


def weigh_all(by: By, batch: Batch) -> list[Weighing]:
    """Weigh every line that has a plan."""
    positions = batch.lines.filter(planned_g__gt=0).values_list("position", flat=True)
    return [weigh_line(by, batch, position) for position in positions]


def make_made(by: By, version: FormulaVersion | None = None, bulk: str = "990", **fields: Any) -> Batch:
    """A batch whose bulk is weighed, all of it still without an account."""
    batch = make_making(by, version, **fields)
    weigh_all(by, batch)
    return finish_batch(by, batch=batch, bulk_g=Decimal(bulk))


def make_accounted(by: By, version: FormulaVersion | None = None, **fields: Any) -> Batch:
    """A made batch whose bulk all went into samples: nothing stands open."""
    batch = make_made(by, version, **fields)
    yield_output(by, batch=batch, kind="sample", grams=batch.bulk_g or Decimal(0))
    return batch


def make_released(by: By, version: FormulaVersion | None = None, **fields: Any) -> Batch:
    """A released batch."""
    batch = make_accounted(by, version, **fields)
    sign(by, batch)
    batch.refresh_from_db()
    return batch


def sign(by: By, batch: Batch, decision: str = "released", **fields: Any) -> Any:
    """Sign a decision with the cast's password, and a reason for whatever asks for one."""
    from batches.actions.making import open_points

    given: dict[str, Any] = {
        "password": PASSWORD,
        "reasons": "" if decision == "released" else "It smells of smoke.",
        "accepted": {point.name: "looked at" for point in open_points(batch) if not point.blocks},
        **fields,
    }
    return release_batch(by, batch=batch, decision=decision, **given)


def make_house_lot(by: By, ingredient_name: str = "", grams: str = "400", **fields: Any) -> Lot:
    """A released lot of an in-house ingredient, out of a batch of its own."""
    version = make_version(by, form="infusion")
    made = make_ingredient(
        by.maker, ingredient_name or f"Calendula infusion {next(_numbers)}", made_from=version.formula
    )
    batch = make_made(by, version, purpose="stock", makes=made)
    lot = yield_output(by, batch=batch, kind="lot", grams=Decimal(grams), **fields).lot
    assert lot is not None
    decide_lot(by, lot=lot, became="released", basis="clear and fresh")
    lot.refresh_from_db()
    return lot


def make_rework(by: By, batch: Batch, grams: str = "200", *, released: bool = True) -> Lot:
    """Bulk of a made batch set aside as rework."""
    lot = yield_output(by, batch=batch, kind="rework", grams=Decimal(grams)).lot
    assert lot is not None
    if released:
        decide_lot(by, lot=lot, became="released", basis="as fresh as the batch")
        lot.refresh_from_db()
    return lot


def second_owner(by: By) -> By:
    """Another owner of the same maker."""
    from tests.cast import make_user

    user = make_user("Wren Tidewell")
    Membership.objects.create(maker=by.maker, user=user, role=Role.OWNER)
    return By(maker=by.maker, user=user, role=Role.OWNER)
