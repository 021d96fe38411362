"""No list and no page asks the database more often because there is more to show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoDbBlocker

from batches.actions.making import deviate, note_batch, plan_batch, read, weigh, yield_output
from batches.actions.selling import add_place, add_recipient, built_in, dispatch, move_units
from batches.actions.stock import count_in, open_hold, receive_delivery, waste_lot
from batches.actions.tracing import add_complaint_step, start_recall, write_complaint
from batches.models import Complaint, Pack
from formulas.actions.formulas import save_version, start_formula
from formulas.actions.ingredients import add_ingredient, add_price, add_source, add_supplier, add_use_level
from formulas.actions.products import add_article, add_product
from formulas.models import Ingredient
from labels.actions import draft_label
from tests.kept import kept
from tests.test_crawl import NEEDS, status
from tests.world import World, addresses, make_world

pytestmark = pytest.mark.django_db
D = Decimal
MORE = 30


def queries(world: World) -> dict[str, int]:
    """How often each page asks the database, once everything that is kept in memory is there."""
    client = Client()
    client.force_login(world.cast.owner.user)
    found = {}
    for name, path in addresses(world).items():
        url = path + NEEDS.get(name, "")
        if status(client, "get", url) != 200:
            continue
        with CaptureQueriesContext(
            connection,
        ) as asked:
            status(client, "get", url)
        found[name] = len(asked)
    return found


def more_paper(world: World, numbers: range) -> None:
    """More ingredients, suppliers, sources, prices, levels, articles, formulas, lines, products and labels."""
    by, lavender = world.cast.owner, world.lavender
    things: list[Ingredient] = []
    for number in numbers:
        things.append(add_ingredient(by, name=f"Oil {number}"))
        source = add_source(by, ingredient=lavender, supplier=add_supplier(by, name=f"Supplier {number}"))
        add_price(by, source=source, on=by.today() - timedelta(number), amount=D(9), pack_g=D(100))
        add_use_level(by, ingredient=lavender, high=D(2), source=f"sheet {number}", basis="memory")
        add_article(by, name=f"Pot {number}")
        start_formula(by, name=f"Balm {number}", kind="leave-on", form="balm", body_area="body")
        product = add_product(
            by,
            formula=world.draft.formula,
            name=f"Cream {number}",
            net_amount=D(30),
            net_unit="g",
            fill_g=D(31),
            markets=["EU", "US"],
        )
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
    oil_line = world.bench.lines.get(ingredient=example.oil)
    for number in numbers:
        lot = count_in(by, ingredient=example.wax, amount=D(10), unit="g")
        open_hold(by, lot=lot, cause="smell")
        waste_lot(by, lot=example.lots["L1"], amount=D(1), why="spilled")
        weigh(by, batch=world.bench, line=oil_line, lot=example.lots["L1"], grams=D(1), why="a little more")
        read(by, batch=world.bench, kind="temperature", value=D(60 + number))
        deviate(by, batch=world.bench, text=f"noise {number}")
        yield_output(by, batch=world.bench, kind="waste", grams=D("0.1"))
        note_batch(by, batch=world.bench, text=f"note {number}")
        plan_batch(by, version=example.version, purpose="trial", scale=example.scale, total_g=D(100 + number))


def more_selling(world: World, numbers: range) -> None:
    """More places, recipients, dispatches, moves, complaints with steps, and rehearsals."""
    by, example = world.cast.owner, world.example
    pack = Pack.objects.get(pk=example.packs["P2"].pk)
    workshop = built_in(by, "workshop")
    complaint = Complaint.objects.earliest("pk")
    for number in numbers:
        add_place(by, name=f"Stall {number}", kind="stall")
        recipient = add_recipient(by, kind="shop", name=f"Shop {number}")
        if number < 20:
            to = recipient if number % 2 else example.people["C2"]
            dispatch(by, recipient=to, on=by.today(), lines=[(pack, 1, workshop)])
        elif number < 23:
            move_units(by, pack=pack, units=1, from_place=workshop, to_place=world.shop)
        write_complaint(by, kind="quality", words="soft", code_given=pack.code, name=f"Person {number}")
        add_complaint_step(by, complaint=complaint, kind="found", text="nothing")
        start_recall(by, rehearsal=True, reason="yearly", lot=example.lots["L2"])


def grow(world: World, numbers: range) -> None:
    """One more of everything for each number."""
    more_paper(world, numbers)
    more_stock(world, numbers)
    more_selling(world, numbers)


@dataclass(frozen=True)
class Counted:
    """Queries of each page with little and with more to show."""

    little: dict[str, int]
    more: dict[str, int]


@pytest.fixture(scope="module")
def counted(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Counted]:
    """The world's pages, before and after it grew."""
    with kept(django_db_blocker):
        world = make_world()
        grow(world, range(1))
        little = queries(world)
        grow(world, range(1, MORE))
        yield Counted(little, queries(world))


def test_no_page_asks_more_often_for_more_rows(counted: Counted) -> None:
    """With thirty of everything to show, every page asks as often as with one or two."""
    grown = {
        name: (counted.little[name], many)
        for name, many in counted.more.items()
        if many > counted.little[name]
    }

    assert grown == {}, grown


def test_every_page_was_counted_both_times(counted: Counted) -> None:
    """No page dropped out because it broke once there was more."""
    assert counted.little.keys() == counted.more.keys()
    assert len(counted.little) > 60


def test_no_page_asks_very_often(counted: Counted) -> None:
    """A page that asks more than this has lost sight of its data; two that look at everything may."""
    most, everything = 60, {"house:check", "house:export"}

    assert {name: many for name, many in counted.more.items() if many > most and name not in everything} == {}
