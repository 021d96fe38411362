"""What a trial left goes into another trial alone: by the actions, by the choices, and past both by the database."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from batches.actions.making import (
    add_rework_line,
    finish_batch,
    lots_for,
    open_points,
    take_back,
    yield_output,
)
from batches.actions.making_plan import add_line
from batches.actions.selling import add_recipient, built_in, dispatch, pack_batch, set_up_places
from batches.actions.stock import decide_lot
from batches.models import Batch, BatchLine, Dispatch, Lot, Weighing
from batches.trial_lots import trial_behind, with_trials_in
from formulas.models import FormulaVersion
from makers import guards
from makers.actions import By, Refused
from tests.batches.making.factories_making import (
    line_at,
    make_made,
    make_making,
    make_plan,
    make_product,
    make_rework,
    make_version,
    percent_line,
    sign,
    weigh_all,
    weigh_line,
)
from tests.batches.pages import act_on, text_of, url
from tests.batches.stock.factories_stock import make_ingredient
from tests.cast import Cast

D = Decimal
CURE = r"Trials are never sold, so it goes into another trial only\. Take another lot, or plan this batch as a trial"


@pytest.fixture
def version(by: By) -> FormulaVersion:
    """What all batches here are made to."""
    return make_version(by)


@pytest.fixture
def trial(by: By, version: FormulaVersion) -> Batch:
    """A trial whose bulk is weighed."""
    return make_made(by, version, purpose="trial", code="TR1")


@pytest.fixture
def left(by: By, trial: Batch) -> Lot:
    """20 g of it, set aside as rework and released."""
    return make_rework(by, trial, "20")


def for_stock(by: By, version: FormulaVersion) -> dict[str, Any]:
    """A plan that makes an ingredient of the version's formula."""
    return {"purpose": "stock", "makes": make_ingredient(by.maker, made_from=version.formula)}


def into(by: By, batch: Batch, lot: Lot, grams: str = "20") -> Weighing:
    """Rework planned and weighed."""
    line = add_rework_line(by, batch=batch, lot=lot, grams=D(grams), why="Same formula.")
    return weigh_line(by, batch, line.position, lot=lot)


def made_with(by: By, lot: Lot, version: FormulaVersion, **fields: Any) -> Batch:
    """A batch that took the lot as rework."""
    batch = make_making(by, version, **fields)
    into(by, batch, lot, str(lot.on_hand))
    for line in batch.lines.exclude(kind="rework"):
        weigh_line(by, batch, line.position)
    return finish_batch(by, batch=batch, bulk_g=D(1000))


def older(by: By, lot: Lot, version: FormulaVersion, *, code: str, **fields: Any) -> Batch:
    """A batch that is no trial and took what a trial left, from a book in which nothing objected."""
    batch = made_with(by, lot, version, purpose="trial", code=code)
    with guards.lifted():
        Batch.objects.filter(pk=batch.pk).update(**fields)
    batch.refresh_from_db()
    return batch


# -- planning and weighing


@pytest.mark.parametrize("purpose", ["sale", "stock"])
@pytest.mark.parametrize("make", [make_plan, make_making])
def test_rework_of_a_trial_goes_into_nothing_that_is_sold(
    by: By, version: FormulaVersion, left: Lot, purpose: str, make: Callable[..., Batch]
) -> None:
    """Neither planned nor on the bench, neither for sale nor for stock; nothing is written."""
    given = for_stock(by, version) if purpose == "stock" else {"purpose": "sale"}
    batch = make(by, version, **given)

    with pytest.raises(Refused, match=rf"{left} was left by trial TR1\. {CURE}"):
        add_rework_line(by, batch=batch, lot=left, grams=D(20), why="Same formula.")

    assert not batch.lines.filter(kind="rework").exists()


def test_it_goes_into_another_trial_and_on_from_there(by: By, version: FormulaVersion, left: Lot) -> None:
    """What that trial left is a trial's again, at any depth, and the sentence names the trial that left it."""
    second = made_with(by, left, version, purpose="trial", code="TR2")
    lot = make_rework(by, second, "100")
    third = made_with(by, lot, version, purpose="trial", code="TR3")
    last = make_rework(by, third, "100")

    with pytest.raises(Refused, match=rf"{last} was left by trial TR3\. {CURE}"):
        add_rework_line(by, batch=make_plan(by, version), lot=last, grams=D(20), why="x")
    assert trial_behind(third) == third


def test_rework_of_a_batch_for_sale_goes_in_as_before(by: By, version: FormulaVersion, left: Lot) -> None:
    """Into one for sale and into a trial; a trial's on stock beside it changes nothing."""
    lot = make_rework(by, make_made(by, version), "200")

    into(by, make_making(by, version), lot, "100")
    into(by, make_making(by, version, purpose="trial"), lot, "100")

    lot.refresh_from_db()
    assert lot.on_hand == 0


def test_a_trial_makes_no_ingredient_lot(by: By, trial: Batch, version: FormulaVersion) -> None:
    """So all that it leaves on stock is rework."""
    with pytest.raises(Refused, match="makes no ingredient"):
        yield_output(by, batch=trial, kind="lot", grams=D(20))
    with pytest.raises(Refused, match="Only a batch for stock makes an ingredient"):
        make_plan(by, version, **{**for_stock(by, version), "purpose": "trial"})


# -- on screen


def test_it_is_not_among_the_choices(at_home: Client, by: By, version: FormulaVersion, left: Lot) -> None:
    """A batch for sale offers other rework alone and says why; a trial offers both."""
    other = make_rework(by, make_made(by, version), "200")
    sale, again = make_plan(by, version), make_plan(by, version, purpose="trial")

    shown = at_home.get(url(by, "batch", code=sale.code)).content.decode()
    assert f">{other.code}, " in shown
    assert f">{left.code}, " not in shown
    assert "What a trial left goes into another trial only" in shown
    assert f">{left.code}, " in at_home.get(url(by, "batch", code=again.code)).content.decode()


def test_sent_all_the_same_it_comes_back(at_home: Client, by: By, version: FormulaVersion, left: Lot) -> None:
    """Nothing typed is lost, nothing is written."""
    batch = make_plan(by, version)

    response = act_on(at_home, by, batch, "rework", lot=left.pk, grams="20", why="Same formula, clean.")

    assert "Same formula, clean." in text_of(response)
    assert not batch.lines.filter(kind="rework").exists()


# -- past the actions


def refuses(write: Callable[[], Any]) -> None:
    """The database says no, and the transaction around goes on."""
    with pytest.raises(IntegrityError, match=r"trial|purpose"), transaction.atomic():
        write()


def rework_line(by: By, batch: Batch, lot: Lot) -> BatchLine:
    """A line of rework past the actions."""
    return add_line(by, batch, kind="rework", rework_lot=lot, planned_g=D(20), why="x")


def raw_weighing(by: By, line: BatchLine, lot: Lot, **fields: Any) -> Weighing:
    """A weighing past the actions."""
    return Weighing.objects.create(
        maker=by.maker, batch=line.batch, line=line, lot=lot, scale=line.batch.scale, occurred_at=by.now(),
        entered_at=by.now(), user=by.user, **{"grams": D(20), **fields},
    )  # fmt: skip


@pytest.mark.parametrize("purpose", ["sale", "stock"])
def test_the_database_takes_no_such_line(by: By, version: FormulaVersion, left: Lot, purpose: str) -> None:
    """Not added, not turned from other rework, not moved from a trial."""
    given = for_stock(by, version) if purpose == "stock" else {"purpose": "sale"}
    batch, again = make_plan(by, version, **given), make_plan(by, version, purpose="trial")
    other = rework_line(by, batch, make_rework(by, make_made(by, version), "200"))
    tried = rework_line(by, again, left)

    refuses(lambda: rework_line(by, batch, left))
    refuses(lambda: BatchLine.objects.filter(pk=other.pk).update(rework_lot=left))
    refuses(lambda: BatchLine.objects.filter(pk=tried.pk).update(batch=batch))


def test_the_database_takes_no_such_weighing(by: By, version: FormulaVersion, left: Lot) -> None:
    """Were a line there from before, it holds nothing of a trial; nor by a lot called an ingredient since."""
    batch = make_making(by, version)
    with guards.lifted():
        line = rework_line(by, batch, left)
    refuses(lambda: raw_weighing(by, line, left))

    oil = line_at(batch, 1)
    Lot.objects.filter(pk=left.pk).update(rework_of=None, ingredient=oil.ingredient)
    refuses(lambda: raw_weighing(by, oil, left))
    assert left not in lots_for(by.maker, oil, by.today())
    left.refresh_from_db()
    with pytest.raises(Refused, match=rf"was left by trial TR1\. {CURE}"):
        weigh_line(by, batch, 1, lot=left, grams=D(20), why="x")


def test_neither_the_trial_nor_its_lot_is_called_something_else(
    by: By, version: FormulaVersion, trial: Batch, left: Lot
) -> None:
    """A trial stays one, and what it left stays its own."""
    sale = make_made(by, version)

    refuses(lambda: Batch.objects.filter(pk=trial.pk).update(purpose="sale"))
    refuses(lambda: Lot.objects.filter(pk=left.pk).update(from_batch=sale))
    refuses(lambda: Lot.objects.filter(pk=left.pk).update(from_batch=None, origin="opening"))


# -- books in which it went further already


def older_stock(by: By, version: FormulaVersion, left: Lot) -> Lot:
    """An in-house ingredient with a trial in it, released."""
    makes = make_ingredient(by.maker, "Calendula infusion", made_from=version.formula)
    batch = older(by, left, version, purpose="stock", makes=makes, code="ST1")
    lot = yield_output(by, batch=batch, kind="lot", grams=D(400)).lot
    assert lot is not None
    decide_lot(by, lot=lot, became="released", basis="clear")
    lot.refresh_from_db()
    return lot


def test_an_ingredient_with_a_trial_in_it_is_neither_proposed_nor_weighed(
    by: By, version: FormulaVersion, left: Lot
) -> None:
    """The sentence names the trial and the batch between; a trial may take it."""
    lot = older_stock(by, version, left)
    wax = make_ingredient(by.maker, "Beeswax")
    assert lot.ingredient is not None
    balm = make_version(by, percent_line(lot.ingredient, "30"), percent_line(wax, "70"))
    sale, again = make_making(by, balm), make_making(by, balm, purpose="trial")

    assert lots_for(by.maker, line_at(sale), by.today()) == []
    with pytest.raises(Refused, match=rf"{lot} holds what trial TR1 left, by ST1\. {CURE}"):
        weigh_line(by, sale, 1, lot=lot)
    assert lots_for(by.maker, line_at(again), by.today()) == [lot]
    weigh_line(by, again, 1, lot=lot)


def test_a_batch_with_a_trial_in_it_is_not_released_or_packed(
    by: By, version: FormulaVersion, left: Lot
) -> None:
    """Until that weighing is taken back, which the database lets through."""
    batch = older(by, left, version, purpose="sale", code="SA1")
    product = make_product(version)

    [point] = [one for one in open_points(batch) if one.name == "trial"]
    assert point.blocks
    assert point.text.startswith("Trial TR1 is in it, and trials are never sold.")
    with pytest.raises(Refused, match="Trial TR1 is in it"):
        sign(by, batch)
    with pytest.raises(
        Refused, match=r"Trial TR1 is in SA1\. Trials are never sold, so it never becomes packs"
    ):
        pack_batch(by, batch=batch, product=product, units=10, grams=D(500))
    take_back(by, weighing=batch.weighings.get(lot=left), why="It came from a trial.")
    assert with_trials_in(by.maker) == {left.from_batch_id}
    assert trial_behind(batch) is None


def test_packs_with_a_trial_in_them_stay(by: By, version: FormulaVersion, trial: Batch) -> None:
    """Packed and released before anybody objected."""
    set_up_places(by)
    product = make_product(version)
    batch = make_made(by, version, code="SA1")
    pack = pack_batch(by, batch=batch, product=product, units=10, grams=D(500))
    sign(by, batch)
    left = make_rework(by, trial, "20")
    with guards.lifted():
        line = rework_line(by, batch, left)
        raw_weighing(by, line, left)
    buyer = add_recipient(by, kind="shop", name="Saltmarsh Stores")

    with pytest.raises(Refused, match=r"stays: trial TR1 is in it, and trials are never sold\. Destroy"):
        dispatch(by, recipient=buyer, on=by.today(), lines=[(pack, 2, built_in(by, "workshop"))])

    assert not Dispatch.objects.exists()


def test_another_makers_trials_are_not_asked(cast: Cast) -> None:
    """Each maker's own."""
    make_rework(cast.stranger, make_made(cast.stranger, purpose="trial"), "20")

    assert with_trials_in(cast.maker) == set()
    weigh_all(cast.owner, make_making(cast.owner))
