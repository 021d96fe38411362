"""Finishing, the last good day, what came of a batch, readings, fills, checks and deviations."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from batches.actions.making import (
    add_rework_line,
    check,
    correct_output,
    deviate,
    fill,
    finish_batch,
    judge_deviation,
    read,
    take_back,
    weigh,
    yield_output,
)
from batches.models import Batch, Check, Deviation, Fill, Lot, LotEntry, Output, Reading, RetainedSample
from makers.actions import By, Refused
from makers.actions.journal import entries_about, sentence
from tests.batches.making.factories_making import (
    adjust_line,
    line_at,
    lot_for,
    make_house_lot,
    make_made,
    make_making,
    make_product,
    make_released,
    make_rework,
    make_version,
    percent_line,
    weigh_all,
    weigh_line,
)
from tests.batches.stock.factories_stock import in_days, make_ingredient

# -- finishing


def test_the_last_good_day_is_the_shortest_of_life_and_lots(by: By) -> None:
    """24 months of life, an oil good for 400 days: the oil sets it, and the record says so."""
    version = make_version(by, percent_line(make_ingredient(by.maker, "Hemp oil"), "100"))
    batch = make_making(by, version, product=make_product(version, life_months=24))
    lot = lot_for(by, line_at(batch), good_until=in_days(by, 400))
    weigh_line(by, batch, lot=lot)

    made = finish_batch(by, batch=batch, bulk_g=Decimal(980))

    assert (made.state, made.best_before) == ("made", in_days(by, 400))
    assert made.best_before_why == f"Set by Hemp oil, lot {lot.code}, good until {in_days(by, 400):%Y-%m-%d}."


def test_a_products_life_counts_in_months_from_the_day_it_was_made(by: By) -> None:
    """The fixture of the trace: made 2026-02-10, 24 months, good until 2028-02-10."""
    version = make_version(by)
    batch = make_making(by, version, product=make_product(version))
    weigh_all(by, batch)

    made = finish_batch(by, batch=batch, bulk_g=Decimal(980), made_on=date(2026, 2, 10))

    assert made.best_before == date(2028, 2, 10)


def test_rework_brings_its_own_day(by: By) -> None:
    """The second batch keeps no longer than the first, whose rework is in it."""
    version = make_version(by, percent_line(make_ingredient(by.maker), "100"))
    first = make_making(by, version)
    weigh_line(by, first, lot=lot_for(by, line_at(first), good_until=in_days(by, 50)))
    rework = make_rework(by, finish_batch(by, batch=first, bulk_g=Decimal(990)))
    second = make_making(by, version)
    weigh_line(by, second, lot=lot_for(by, line_at(second)), why="The first bag is for tomorrow.")
    line = add_rework_line(by, batch=second, lot=rework, grams=Decimal(200), why="x")
    weigh_line(by, second, line.position, lot=rework)

    made = finish_batch(by, batch=second, bulk_g=Decimal(1100))

    assert made.best_before == in_days(by, 50)
    assert "rework of" in made.best_before_why


def test_a_line_that_was_not_weighed_is_named(by: By) -> None:
    """Until somebody writes why it stays out."""
    batch = make_making(by)
    weigh_line(by, batch, 1)
    wax = line_at(batch, 2)

    with pytest.raises(Refused, match=f"Not weighed yet: {wax.ingredient}"):
        finish_batch(by, batch=batch, bulk_g=Decimal(690))

    deviate(by, batch=batch, line=wax, text="Left out: the block is mouldy.")
    assert finish_batch(by, batch=batch, bulk_g=Decimal(690)).state == "made"


def test_an_adjust_line_from_nothing_may_stay_empty(by: By) -> None:
    """The pH was right as it was."""
    version = make_version(
        by, percent_line(make_ingredient(by.maker), "100"), adjust_line(make_ingredient(by.maker), "0", "0.5")
    )
    batch = make_making(by, version)
    weigh_line(by, batch, 1)

    assert finish_batch(by, batch=batch, bulk_g=Decimal(990)).state == "made"


def test_more_out_than_in_asks_why(by: By) -> None:
    """And is a deviation that has to be judged."""
    batch = make_making(by)
    weigh_all(by, batch)

    with pytest.raises(Refused, match=r"came out, .*went in"):
        finish_batch(by, batch=batch, bulk_g=Decimal("1000.1"))

    finish_batch(by, batch=batch, bulk_g=Decimal("1000.1"), why="The bowl was wet.")
    assert Deviation.objects.get().text.endswith("The bowl was wet.")


@pytest.mark.parametrize(
    ("bulk", "days", "said"),
    [("0", 0, "more than 0 g"), ("-1", 0, "more than 0 g"), ("900", 1, "still to come")],
)
def test_a_bulk_that_can_not_be_is_refused(by: By, bulk: str, days: int, said: str) -> None:
    """Nothing, less than nothing, tomorrow."""
    batch = make_making(by)
    weigh_all(by, batch)

    with pytest.raises(Refused, match=said):
        finish_batch(by, batch=batch, bulk_g=Decimal(bulk), made_on=by.today() + timedelta(days=days))

    batch.refresh_from_db()
    assert batch.state == "making"


def test_a_batch_is_finished_once(by: By) -> None:
    """The second tap is told that it is made."""
    batch = make_made(by)

    with pytest.raises(Refused, match="is made already"):
        finish_batch(by, batch=batch, bulk_g=Decimal(1))


# -- outputs


def test_an_in_house_lot_waits_for_a_decision(by: By) -> None:
    """Of the ingredient that the batch makes, from the batch, good as long as it, in quarantine."""
    version = make_version(by, form="infusion")
    infusion = make_ingredient(by.maker, "Calendula oil", made_from=version.formula, shelf_life_months=12)
    batch = make_made(by, version, purpose="stock", makes=infusion)

    lot = yield_output(by, batch=batch, kind="lot", grams=Decimal(980)).lot

    assert isinstance(lot, Lot)
    lot.refresh_from_db()
    assert (lot.ingredient, lot.from_batch, lot.status, lot.on_hand) == (
        infusion,
        batch,
        "quarantine",
        Decimal(980),
    )
    assert lot.good_until == batch.best_before
    assert LotEntry.objects.get(lot=lot).kind == "made"


def said_of(by: By, batch: Batch) -> str:
    """The newest sentence in a batch's journal."""
    return sentence(entries_about(by.maker, batch.uuid)[0]).strip()


def test_the_journal_names_what_came_of_a_batch(by: By) -> None:
    """Each kind with its lot, and the word lot once."""
    version = make_version(by, form="infusion")
    infusion = make_ingredient(by.maker, "Calendula oil", made_from=version.formula, shelf_life_months=12)
    batch = make_made(by, version, purpose="stock", makes=infusion)

    lot = yield_output(by, batch=batch, kind="lot", grams=Decimal(500)).lot
    of_the_lot = said_of(by, batch)
    rework = yield_output(by, batch=batch, kind="rework", grams=Decimal(100)).lot
    of_the_rework = said_of(by, batch)
    yield_output(by, batch=batch, kind="waste", grams=Decimal(4))

    assert of_the_lot == f"wrote 500 g of {batch}: ingredient lot {lot}"
    assert of_the_rework == f"wrote 100 g of {batch}: set aside as rework lot {rework}"
    assert said_of(by, batch) == f"wrote 4 g of {batch}: process waste, before the bulk"


def test_an_in_house_lot_is_good_no_longer_than_its_batch(by: By) -> None:
    """A shorter date may be given, a longer one not."""
    version = make_version(by, form="infusion")
    infusion = make_ingredient(by.maker, made_from=version.formula, shelf_life_months=12)
    batch = make_made(by, version, purpose="stock", makes=infusion)
    assert batch.best_before is not None

    with pytest.raises(Refused, match="The batch is good until"):
        yield_output(
            by, batch=batch, kind="lot", grams=Decimal(1), good_until=batch.best_before + timedelta(days=1)
        )

    assert make_house_lot(by).origin == "batch"


@pytest.mark.parametrize(
    ("kind", "grams", "said"),
    [
        ("rework", "990.1", r"990\.0.*g of the bulk are left, 990\.1.*g were written"),
        ("sample", "0", "more than 0 g"),
        ("lot", "10", "makes no ingredient"),
        ("gift", "10", "Say what it became"),
    ],
)
def test_outputs_that_can_not_be_are_refused(by: By, kind: str, grams: str, said: str) -> None:
    """No lot and no code is left behind."""
    batch = make_made(by)

    with pytest.raises(Refused, match=said):
        yield_output(by, batch=batch, kind=kind, grams=Decimal(grams))

    assert not Output.objects.exists()
    assert not Lot.objects.filter(from_batch=batch).exists()


def test_waste_stands_beside_the_bulk(by: By) -> None:
    """All of the bulk can still go elsewhere."""
    batch = make_made(by)

    yield_output(by, batch=batch, kind="waste", grams=Decimal(10))

    assert yield_output(by, batch=batch, kind="fill_loss", grams=Decimal(990)).grams == 990


def test_a_sample_that_is_kept_says_where_and_until_when(by: By) -> None:
    """It is a retained sample as well."""
    batch = make_made(by)

    yield_output(
        by, batch=batch, kind="sample", grams=Decimal(20), where="Shelf R3", keep_until=in_days(by, 700)
    )

    sample = RetainedSample.objects.get()
    assert (sample.grams, sample.where, sample.keep_until) == (Decimal(20), "Shelf R3", in_days(by, 700))


def test_an_output_sent_twice_has_one_effect(by: By) -> None:
    """One lot, one code."""
    batch, key = make_made(by), uuid4()

    first = yield_output(by, batch=batch, kind="rework", grams=Decimal(100), entry_key=key)

    assert yield_output(by, batch=batch, kind="rework", grams=Decimal(100), entry_key=key) == first
    assert Lot.objects.filter(from_batch=batch).count() == 1


def test_an_output_is_taken_back_with_its_lot(by: By) -> None:
    """The lot is empty again, both rows stay, and the reversal points at what it reverses."""
    batch = make_made(by)
    lot = make_rework(by, batch)

    back = correct_output(by, output=Output.objects.get(), why="It was 20 g.")

    lot.refresh_from_db()
    assert (back.grams, lot.on_hand) == (Decimal(-200), Decimal(0))
    assert LotEntry.objects.get(kind="reversed").reverses == LotEntry.objects.get(lot=lot, kind="made")
    with pytest.raises(Refused, match="taken back already"):
        correct_output(by, output=Output.objects.get(grams=200), why="x")


def test_what_was_used_since_is_not_taken_back(by: By) -> None:
    """100 g went into another batch."""
    version = make_version(by)
    lot = make_rework(by, make_made(by, version))
    other = make_making(by, version)
    line = add_rework_line(by, batch=other, lot=lot, grams=Decimal(100), why="x")
    weigh_line(by, other, line.position, lot=lot)

    with pytest.raises(Refused, match=r"100\.0.*g of lot .* were used since"):
        correct_output(by, output=Output.objects.get(lot=lot), why="x")


def test_a_released_batch_yields_nothing_more(by: By) -> None:
    """Neither by the action nor past it."""
    batch = make_released(by)

    with pytest.raises(Refused, match="Write an amendment"):
        yield_output(by, batch=batch, kind="waste", grams=Decimal(1))
    with pytest.raises(IntegrityError), transaction.atomic():
        Output(
            maker=by.maker, batch=batch, kind="waste", grams=Decimal(1),
            occurred_at=by.now(), entered_at=by.now(), user=by.user,
        ).save()  # fmt: skip


# -- readings, fills, checks, deviations


def test_a_reading_keeps_its_conditions_and_unit(by: By) -> None:
    """pH of a dilution at 22 °C; a temperature in °C without being asked."""
    batch = make_making(by)

    read(by, batch=batch, kind="pH", value=Decimal("5.1"), conditions="10 % dilution, 22 °C, meter 1")
    read(by, batch=batch, kind="temperature", value=Decimal("49.4"))

    assert list(Reading.objects.order_by("pk").values_list("unit", "conditions")) == [
        ("", "10 % dilution, 22 °C, meter 1"),
        ("°C", ""),
    ]


@pytest.mark.parametrize(
    ("kind", "value", "field"),
    [
        ("pH", "5.1", "conditions"),
        ("viscosity", "12000", "conditions"),
        ("other", "1", "conditions"),
        ("pH", "51", "value"),
        ("temperature", "754", "value"),
        ("room", "190", "value"),
    ],
)
def test_a_reading_that_says_nothing_is_refused(by: By, kind: str, value: str, field: str) -> None:
    """A figure without its conditions, or one that can't be."""
    batch = make_making(by)

    with pytest.raises(Refused) as refusal:
        read(by, batch=batch, kind=kind, value=Decimal(value))

    assert field in refusal.value.message_dict
    assert not Reading.objects.exists()


def test_a_fill_is_of_a_product_of_the_formula(by: By) -> None:
    """And above 0 g; twice with one key is once."""
    version = make_version(by)
    product, key = make_product(version), uuid4()
    batch = make_made(by, version)

    first = fill(by, batch=batch, product=product, net_g=Decimal("50.2"), entry_key=key)

    assert fill(by, batch=batch, product=product, net_g=Decimal("50.2"), entry_key=key) == first
    assert Fill.objects.count() == 1
    with pytest.raises(Refused, match="made to another formula"):
        fill(by, batch=batch, product=make_product(make_version(by)), net_g=Decimal(50))
    with pytest.raises(Refused, match="above 0 g"):
        fill(by, batch=batch, product=product, net_g=Decimal(0))


def test_a_check_that_is_not_so_needs_a_note(by: By) -> None:
    """What was seen instead."""
    batch = make_making(by)

    with pytest.raises(Refused, match="Say what was seen instead"):
        check(by, batch=batch, question="Even and ivory", passed=False)

    check(by, batch=batch, question="Even and ivory", passed=False, note="Grainy at the edge.", kind="look")
    assert Check.objects.filter(kind="look").get().note == "Grainy at the edge."


def test_a_deviation_is_judged_once_and_with_words(by: By) -> None:
    """What it means for the batch."""
    deviation = deviate(by, batch=make_making(by), text="Stirred in too early.")

    with pytest.raises(Refused, match="Say what it means"):
        judge_deviation(by, deviation=deviation, accepted=True, text=" ")
    judgement = judge_deviation(by, deviation=deviation, accepted=True, text="Two minutes do no harm.")

    assert (judgement.deviation, judgement.accepted) == (deviation, True)
    with pytest.raises(Refused, match="judged already"):
        judge_deviation(by, deviation=deviation, accepted=False, text="x")


@pytest.mark.parametrize("model", [Reading, Fill, Check, Deviation, Output])
def test_what_happened_never_changes(by: By, model: Any) -> None:
    """Neither edited nor removed, by any way in."""
    version = make_version(by)
    batch = make_made(by, version)
    read(by, batch=batch, kind="temperature", value=Decimal(20))
    fill(by, batch=batch, product=make_product(version), net_g=Decimal(50))
    deviate(by, batch=batch, text="x")
    yield_output(by, batch=batch, kind="waste", grams=Decimal(1))
    row = model.objects.first()

    ways_past_the_model: list[Callable[[], object]] = [
        lambda: model._base_manager.filter(pk=row.pk).update(entered_at=by.now()),
        lambda: model._base_manager.filter(pk=row.pk)._raw_delete("default"),
    ]
    for change in ways_past_the_model:
        with pytest.raises((IntegrityError, TypeError)), transaction.atomic():
            change()


def test_a_made_batch_can_still_be_corrected_by_weighing(by: By) -> None:
    """Taken back and weighed again before anybody signs."""
    batch = make_made(by)
    wrong = batch.weighings.first()
    assert wrong is not None

    take_back(by, weighing=wrong, why="Typed 700, the note says 699.")
    again = weigh(by, batch=batch, line=wrong.line, lot=wrong.lot, grams=Decimal(699))

    assert again.grams == 699
