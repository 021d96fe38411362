"""The worked traceability example, entered through the actions on the days on which it happens.

Own numbers, computed by hand (definitions of yield and reconciliation: 21 CFR 210.3(b), 211.103, 211.184):
one lot of oil and two of wax; two balms of 50 g units, the second with 200 g of rework of the first; five
dispatches to three recipients; five units back. ``tests/batches/rules/fixture.py`` has it as bare links.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from decimal import Decimal

from batches.actions.making import (
    START_CHECKS,
    add_rework_line,
    finish_batch,
    judge_deviation,
    open_points,
    plan_batch,
    release_batch,
    start_batch,
    weigh,
    yield_output,
)
from batches.actions.selling import (
    add_recipient,
    built_in,
    destroy_units,
    dispatch,
    keep_units,
    pack_batch,
    set_up_places,
    take_return,
)
from batches.actions.stock import count_lot, decide_lot, receive_delivery, waste_lot
from batches.models import Batch, Dispatch, Lot, Pack, Recipient, Return
from formulas.actions.formulas import answer_key, approve_version, review_version, save_version, start_formula
from formulas.actions.ingredients import add_ingredient, add_supplier
from formulas.actions.products import add_product
from formulas.models import FormulaVersion, Ingredient, Product
from makers.actions import By
from makers.models import Scale
from tests.cast import PASSWORD, make_scale

D = Decimal
WHILE_GOOD = "2026-04-01"
"""A day after the example's last on which its packs still leave: they are best before 2027-05-31."""
ALL_WELL = [(question, True, "") for question in START_CHECKS]


def on(by: By, day: str) -> By:
    """The member at noon of a day, by the clock of the example."""
    noon = datetime.fromisoformat(f"{day}T12:00:00").replace(tzinfo=UTC)
    return replace(by, clock=lambda: noon, clock_name="example")


@dataclass
class Example:
    """Everything of the example, by the names that its tables use."""

    by: By
    oil: Ingredient
    wax: Ingredient
    version: FormulaVersion
    product: Product
    scale: Scale
    lots: dict[str, Lot]
    batches: dict[str, Batch]
    packs: dict[str, Pack]
    people: dict[str, Recipient]
    sent: dict[str, Dispatch]
    came_back: Return


def approve(by: By, version: FormulaVersion) -> FormulaVersion:
    """Approve with a reason for whatever the review asks about."""
    asked = review_version(by.maker, version, on=by.today()).to_answer
    return approve_version(by, version=version, reasons={answer_key(one): "settled" for one in asked})


def make_paper(by: By) -> tuple[Ingredient, Ingredient, FormulaVersion, Product]:
    """Oil and wax, a balm of 70 and 30 %, and its pot of 50 g that keeps 24 months."""
    oil = add_ingredient(by, name="Oil of the example")
    wax = add_ingredient(by, name="Wax of the example")
    version = start_formula(by, name="Balm of the example", kind="leave-on", form="balm")
    lines = [{"ingredient": oil, "percent": D(70)}, {"ingredient": wax, "percent": D(30)}]
    phases = [{"letter": "A", "name": "Melt", "lines": lines}]
    version = approve(by, save_version(by, version=version, phases=phases, edit=version.edit))
    product = add_product(
        by,
        formula=version.formula,
        name="Balm of the example 50 g",
        net_amount=D(50),
        net_unit="g",
        fill_g=D(50),
        life_months=24,
        markets=["EU"],
    )
    return oil, wax, version, product


def receive_lots(by: By, oil: Ingredient, wax: Ingredient) -> dict[str, Lot]:
    """L1, L2 and L3, released."""
    supplier = add_supplier(by, name="Supplier of the example")
    rows = (
        ("L1", oil, 15000, "S-OIL-77", date(2028, 6, 30)),
        ("L2", wax, 3000, "S-WAX-12", date(2027, 5, 31)),
        ("L3", wax, 5000, "S-WAX-19", date(2028, 12, 31)),
    )
    delivery = receive_delivery(
        by,
        supplier=supplier,
        received_on=by.today(),
        currency="EUR",
        lines=[
            {
                "ingredient": ingredient,
                "amount": D(grams),
                "unit": "g",
                "supplier_lot": their,
                "good_until": until,
                "code": code,
            }
            for code, ingredient, grams, their, until in rows
        ],
    )
    lots = {lot.code: lot for lot in delivery.lots.all()}
    for lot in lots.values():
        decide_lot(by, lot=lot, became="released", basis="certificate read")
    return lots


def made(
    by: By,
    example: Example,
    code: str,
    *,
    total: int,
    weighings: list[tuple[str, int, str]],
    rework: Callable[[Batch], None] | None = None,
    bulk: int,
    outputs: list[tuple[str, int]],
) -> Batch:
    """Plan, start, weigh and finish a batch of the example. weighings: lot, grams, why."""
    batch = plan_batch(
        by,
        version=example.version,
        purpose="sale",
        scale=example.scale,
        product=example.product,
        total_g=D(total),
        code=code,
    )
    batch = start_batch(by, batch=batch, checks=ALL_WELL)
    if rework is not None:
        rework(batch)
    lines = {(line.ingredient_id, line.rework_lot_id): line for line in batch.lines.all()}
    for name, grams, why in weighings:
        lot = example.lots[name]
        line = lines[(lot.ingredient_id, None if lot.ingredient_id else lot.pk)]
        weigh(by, batch=batch, line=line, lot=lot, grams=D(grams), why=why)
    batch = finish_batch(by, batch=batch, bulk_g=D(bulk))
    for kind, grams in outputs:
        output = yield_output(by, batch=batch, kind=kind, grams=D(grams))
        if output.lot is not None:
            decide_lot(by, lot=output.lot, became="released", basis="same day, same pot, covered")
            example.lots["R1"] = output.lot
    return batch


def packed(by: By, example: Example, batch: Batch, *, units: int, grams: int, kept: int, gone: int) -> Pack:
    """Fill the packs, keep some, destroy some, and release the batch."""
    pack = pack_batch(by, batch=batch, product=example.product, units=units, grams=D(grams))
    keep_units(by, pack=pack, units=kept, where="cool shelf")
    workshop = built_in(by, "workshop")
    destroy_units(by, pack=pack, units=gone, place=workshop, why="dropped")
    for deviation in batch.deviations.all():
        judge_deviation(by, deviation=deviation, accepted=True, text="the rework brings the wax")
    accepted = {point.name: "known and accepted" for point in open_points(batch)}
    release_batch(by, batch=batch, decision="released", password=PASSWORD, accepted=accepted)
    batch.refresh_from_db()
    pack.refresh_from_db()
    return pack


def make_example(by: By) -> Example:
    """The whole example. ``by``: an owner."""
    first = on(by, "2026-02-02")
    set_up_places(first)
    oil, wax, version, product = make_paper(first)
    scale = make_scale(by.maker, "1", "20000")
    lots = receive_lots(first, oil, wax)
    people = {
        name: add_recipient(first, kind="shop", name=f"Shop {name}", email=f"{name.lower()}@example.org")
        for name in ("C1", "C2", "C3")
    }
    example = Example(by, oil, wax, version, product, scale, lots, {}, {}, people, {}, Return())

    day = on(by, "2026-02-10")
    b1 = made(
        day,
        example,
        "B1",
        total=10_000,
        weighings=[("L1", 7000, ""), ("L2", 3000, "")],
        bulk=9800,
        outputs=[("waste", 170), ("sample", 50), ("rework", 200), ("fill_loss", 10)],
    )
    example.batches["B1"] = b1
    example.packs["P1"] = packed(day, example, b1, units=190, grams=9540, kept=3, gone=2)

    day = on(by, "2026-02-24")
    b2 = made(
        day,
        example,
        "B2",
        total=8000,
        rework=lambda batch: rework_into(day, example, batch),
        weighings=[("L1", 5600, ""), ("L3", 2200, "200 g of rework brings the rest"), ("R1", 200, "")],
        bulk=7860,
        outputs=[("waste", 120), ("sample", 40), ("fill_loss", 80)],
    )
    example.batches["B2"] = b2
    example.packs["P2"] = packed(day, example, b2, units=154, grams=7740, kept=3, gone=1)

    send_and_return(by, example)
    day = on(by, "2026-03-26")
    waste_lot(day, lot=lots["L1"], amount=D(100), why="spilled")
    count_lot(day, lot=lots["L1"], found=D(2290), why="nobody knows; scale drift is likely")
    for lot in example.lots.values():
        lot.refresh_from_db()
    return example


def rework_into(by: By, example: Example, batch: Batch) -> None:
    """Take 200 g of B1's rework into a batch."""
    add_rework_line(by, batch=batch, lot=example.lots["R1"], grams=D(200), why="same formula, two weeks old")


def send_and_return(by: By, example: Example) -> None:
    """D1 to D5, and five units of B1 back from C2."""
    rows = (
        ("D1", "2026-03-02", "P1", 60, "C1"),
        ("D2", "2026-03-05", "P1", 100, "C2"),
        ("D3", "2026-03-12", "P2", 80, "C2"),
        ("D4", "2026-03-15", "P2", 40, "C3"),
        ("D5", "2026-03-20", "P1", 20, "C3"),
    )
    for name, when, pack, units, person in rows:
        day = on(by, when)
        line = (example.packs[pack], units, built_in(day, "workshop"))
        example.sent[name] = dispatch(day, recipient=example.people[person], on=day.today(), lines=[line])
    day = on(by, "2026-03-25")
    example.came_back = take_return(
        day, pack=example.packs["P1"], units=5, on=day.today(), reason="dented lids", sent=example.sent["D2"]
    )
