"""A world that grows: one more of everything that a list or a page can show, for each number."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from django.core.files.uploadedfile import SimpleUploadedFile

from batches.actions.making import deviate, note_batch, plan_batch, read, weigh, yield_output
from batches.actions.selling import add_place, add_recipient, built_in, dispatch, move_units, pack_batch
from batches.actions.stock import count_in, decide_lot, open_hold, receive_delivery, waste_lot
from batches.actions.tracing import add_complaint_step, end_recall, start_recall, write_complaint
from batches.actions.trials import correct_trial_note, note_trial
from batches.models import Complaint, Pack
from formulas.actions.costs import add_article_price, add_rate, set_product_cost
from formulas.actions.formulas import save_version, start_formula
from formulas.actions.ingredients import add_ingredient, add_price, add_source, add_supplier, add_use_level
from formulas.actions.papers import file_ingredient_paper
from formulas.actions.products import add_article, add_product
from formulas.models import Article, Ingredient
from labels.actions import draft_label
from labels.actions.printing import add_sheet_layout
from labels.models import SheetLayout
from tests.batches.fixture import WHILE_GOOD, made, on
from tests.world import PAPER, World

D = Decimal
SHEET_MEASURES = (
    "page_width_mm", "page_height_mm", "columns", "rows", "label_width_mm", "label_height_mm", "left_mm", "top_mm",
    "gap_across_mm", "gap_down_mm",
)  # fmt: skip


def more_paper(world: World, numbers: range) -> None:
    """More ingredients, suppliers, sources, prices, levels, articles, formulas, lines, products and labels."""
    by, lavender = world.cast.owner, world.lavender
    things: list[Ingredient] = []
    first_source = lavender.sources.earliest("pk")
    first_pot = Article.objects.for_maker(by.maker).earliest("pk")
    for number in numbers:
        things.append(add_ingredient(by, name=f"Oil {number}"))
        source = add_source(by, ingredient=lavender, supplier=add_supplier(by, name=f"Supplier {number}"))
        add_price(by, source=source, on=by.today() - timedelta(number), amount=D(9), pack_g=D(100))
        file_ingredient_paper(
            by,
            ingredient=lavender,
            source=first_source if number % 2 else source,
            upload=SimpleUploadedFile(f"sheet-{number}.pdf", PAPER + str(number).encode(), "application/pdf"),
            kind="safety",
            issued_on=by.today() - timedelta(700 * number),
        )
        add_use_level(by, ingredient=lavender, high=D(2), source=f"sheet {number}", basis="memory")
        pot = add_article(by, name=f"Pot {number}")
        add_article_price(by, article=pot, on=by.today(), amount=D(9), pieces=10, currency="USD")
        add_article_price(by, article=first_pot, on=by.today(), amount=D(9), pieces=10, currency="GBP")
        add_rate(by, on=by.today() - timedelta(number + 1), currency="GBP", rate=D("1.15"))
        start_formula(by, name=f"Balm {number}", kind="leave-on", form="balm", body_area="body")
        product = add_product(
            by,
            formula=world.draft.formula,
            name=f"Cream {number}",
            net_amount=D(30),
            net_unit="g",
            fill_g=D(31),
            markets=["EU", "US"],
            price=D(12),
            parts=[(pot, 1)],
        )
        set_product_cost(by, product=product, batch_units=40, wanted_margin=D(40 + number))
        if number % 6 == 0:
            draft_label(by, product=product, market="EU")
    world.draft.refresh_from_db()
    lines = [{"ingredient": thing, "percent": D(3)} for thing in things]
    steps = [{"phase": "A", "text": f"Step {number}", "max_c": D(70)} for number in numbers]
    phases = [{"letter": "A", "name": "Melt", "lines": lines}]
    save_version(by, version=world.draft, phases=phases, steps=steps, edit=world.draft.edit)


def more_stock(world: World, numbers: range) -> None:
    """More lots in one delivery and from the shelf, lines in one ledger, holds, and work on the bench."""
    by, example = world.cast.owner, world.example
    supplier = example.lots["L1"].delivery.supplier if example.lots["L1"].delivery else None
    assert supplier is not None
    line = {"ingredient": example.oil, "amount": D(5), "unit": "kg"}
    receive_delivery(
        by, supplier=supplier, received_on=by.today(), currency="EUR", lines=[line] * len(numbers)
    )
    sheet = SheetLayout.objects.for_maker(by.maker).earliest("pk")
    measures = {name: getattr(sheet, name) for name in SHEET_MEASURES}
    oil_line = world.bench.lines.get(ingredient=example.oil)
    for number in numbers:
        add_sheet_layout(by, name=f"Sheet {number}", **measures)
        receive_delivery(by, supplier=supplier, received_on=by.today(), currency="EUR", lines=[line])
        lot = count_in(by, ingredient=example.wax, amount=D(10), unit="g")
        open_hold(by, lot=lot, cause="smell")
        waste_lot(by, lot=example.lots["L1"], amount=D(1), why="spilled")
        weigh(by, batch=world.bench, line=oil_line, lot=example.lots["L1"], grams=D(1), why="a little more")
        read(by, batch=world.bench, kind="temperature", value=D(60 + number))
        deviate(by, batch=world.bench, text=f"noise {number}")
        yield_output(by, batch=world.bench, kind="waste", grams=D("0.1"))
        note_batch(by, batch=world.bench, text=f"note {number}")
        seen = note_trial(by, batch=world.bench, seen_on=by.today(), at_c=D(18), look=f"dull {number}")
        if number % 2:
            correct_trial_note(by, note=seen, why="by daylight", seen_on=by.today(), look=f"clear {number}")
        plan_batch(by, version=example.version, purpose="trial", scale=example.scale, total_g=D(100 + number))


def more_packs(world: World, numbers: range) -> None:
    """More packs of one batch, and of more than one product."""
    by, example = world.cast.owner, world.example
    if "B3" not in example.batches:
        fresh = count_in(by, ingredient=example.wax, amount=D(300), unit="g")
        decide_lot(by, lot=fresh, became="released", basis="looked at")
        example.lots["W1"] = fresh
        weighings = [("L1", 700, ""), ("W1", 300, "")]
        example.batches["B3"] = made(
            by, example, "B3", total=1000, weighings=weighings, bulk=1000, outputs=[]
        )
    for number in numbers:
        pack = pack_batch(
            by,
            batch=example.batches["B3"],
            product=example.product,
            units=2,
            grams=D(30),
            although_short=True,
        )
        if number % 2:
            open_hold(by, pack=pack, cause="a lid is loose")


def more_selling(world: World, numbers: range) -> None:
    """More places, recipients, dispatches, moves, complaints with steps, and rehearsals, half of them ended."""
    by, example = world.cast.owner, world.example
    pack = Pack.objects.get(pk=example.packs["P2"].pk)
    workshop, then = built_in(by, "workshop"), on(by, WHILE_GOOD)
    complaint = Complaint.objects.earliest("pk")
    for number in numbers:
        add_place(by, name=f"Stall {number}", kind="stall")
        recipient = add_recipient(by, kind="shop", name=f"Shop {number}")
        if number < 20:
            to = recipient if number % 2 else example.people["C2"]
            dispatch(then, recipient=to, on=then.today(), lines=[(pack, 1, workshop)])
        elif number < 23:
            move_units(then, pack=pack, units=1, from_place=workshop, to_place=world.shop)
        write_complaint(by, kind="quality", words="soft", code_given=pack.code, name=f"Person {number}")
        add_complaint_step(by, complaint=complaint, kind="found", text="nothing")
        recall = start_recall(by, rehearsal=number % 3 > 0, reason="yearly", lot=example.lots["L2"])
        if number % 2:
            end_recall(by, recall=recall, found_units=number, conclusion="all shops answered")


def grow(world: World, numbers: range) -> None:
    """One more of everything for each number."""
    more_paper(world, numbers)
    more_stock(world, numbers)
    more_packs(world, numbers)
    more_selling(world, numbers)
