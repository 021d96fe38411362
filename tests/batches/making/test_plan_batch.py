"""Planning: figures, shares, snapshots, what is refused, what is short."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from batches.actions.making import give_up_batch, plan_batch, shortages_of, start_batch
from batches.models import Batch, BatchLine, BatchStep, Check, Release
from makers.actions import By, Refused
from makers.models import Code, JournalEntry
from tests.batches.making.factories_making import (
    ALL_YES,
    adjust_line,
    line_at,
    lot_for,
    make_making,
    make_plan,
    make_product,
    make_version,
    percent_line,
    scale_of,
    weigh_line,
)
from tests.batches.stock.factories_stock import make_ingredient
from tests.cast import Cast, make_scale


def test_units_by_fill_with_samples_and_loss_give_the_plan(by: By) -> None:
    """46 x 50 g + 20 g = 2 320 g; at 3 % loss of what goes in, 2 391.752… g, up to the step: 2 391.8 g."""
    batch = make_plan(by, units=46, fill_g=Decimal(50), samples_g=Decimal(20), loss_percent=Decimal(3))

    assert batch.planned_g == Decimal("2391.8")


def test_lines_share_the_plan_exactly_in_steps_of_the_scale(by: By) -> None:
    """A third each of 100 g on 0.1 g: the first takes what is left over."""
    oils = [make_ingredient(by.maker) for _ in range(3)]
    version = make_version(
        by, percent_line(oils[0], "33.34"), percent_line(oils[1], "33.33"), percent_line(oils[2], "33.33")
    )

    batch = make_plan(by, version, total_g=Decimal(100))

    assert [line.planned_g for line in batch.lines.all()] == [
        Decimal("33.4"),
        Decimal("33.3"),
        Decimal("33.3"),
    ]


def test_an_adjust_line_stands_outside_the_sum_with_its_range(by: By) -> None:
    """0.1 to 0.5 % of 1 000 g on top."""
    version = make_version(
        by,
        percent_line(make_ingredient(by.maker), "100"),
        adjust_line(make_ingredient(by.maker), "0.1", "0.5"),
    )

    acid = make_plan(by, version).lines.get(kind="adjust")

    assert (acid.planned_g, acid.low_g, acid.high_g) == (None, Decimal(1), Decimal(5))


def test_lines_and_steps_are_a_snapshot_and_the_version_is_fixed_by_it(by: By) -> None:
    """A trial of a draft freezes the draft."""
    version = make_version(
        by, steps=[{"phase": "A", "text": "Melt", "min_c": Decimal(70), "minutes": 20}], approve=False
    )
    assert version.frozen_at is None

    batch = make_plan(by, version, purpose="trial")

    version.refresh_from_db()
    assert version.frozen_at is not None
    assert batch.lines.count() == 2
    assert [(step.text, step.min_c, step.minutes) for step in batch.steps.all()] == [
        ("Melt", Decimal(70), 20)
    ]


def test_a_draft_is_not_made_for_sale(by: By) -> None:
    """The way on is said."""
    version = make_version(by, approve=False)

    with pytest.raises(Refused, match=r"is a draft\. Approve it first, or plan a trial\."):
        make_plan(by, version)

    assert Batch.objects.count() == 0


@pytest.mark.parametrize(
    ("given", "field", "said"),
    [
        ({"total_g": None}, "units", "How many packs"),
        ({"total_g": None, "units": 5}, "fill_g", "How many grams"),
        ({"total_g": Decimal(0)}, "total_g", "more than 0 g"),
        ({"loss_percent": Decimal(100)}, "loss_percent", "under 100 %"),
        ({"samples_g": Decimal(-1)}, "samples_g", "0 g or more"),
        ({"total_g": Decimal(10_000_001)}, "total_g", "ten tonnes"),
        ({"purpose": "stock"}, "makes", "Which ingredient"),
        ({"purpose": "gift"}, "purpose", "for sale, for trial or for stock"),
    ],
)
def test_figures_that_can_not_be_are_refused_at_their_field(
    by: By, given: dict[str, Any], field: str, said: str
) -> None:
    """Nothing is written."""
    version = make_version(by)
    all_given = {"purpose": "sale", "scale": scale_of(by.maker), "total_g": Decimal(1000), **given}

    with pytest.raises(Refused) as refusal:
        plan_batch(by, version=version, **all_given)

    assert said in refusal.value.message_dict[field][0]
    assert Batch.objects.count() == 0
    assert not JournalEntry.objects.filter(action="batch.planned").exists()


def test_a_product_of_another_formula_is_refused(by: By) -> None:
    """Named with what it is made to."""
    other = make_product(make_version(by))

    with pytest.raises(Refused, match="is made to another formula"):
        make_plan(by, make_version(by), product=other)


def test_an_ingredient_that_the_formula_does_not_make_is_refused(by: By) -> None:
    """The stock batch makes what the ingredient says it is made from."""
    with pytest.raises(Refused, match="is not made from"):
        make_plan(by, purpose="stock", makes=make_ingredient(by.maker))


def test_a_code_is_given_once(by: By) -> None:
    """In sequence of the year, or as wanted; a taken one is refused, in any case of letters."""
    year = f"{by.today():%y}"
    first, second = make_plan(by), make_plan(by, code="Spring-1")

    assert (first.code, second.code) == (f"{year}-0001", "Spring-1")
    with pytest.raises(Refused, match="is already the code of a batch"):
        make_plan(by, code="spring-1")
    assert Code.objects.get(text=first.code).subject == first.uuid


def test_another_makers_version_or_scale_is_not_in_this_book(cast: Cast) -> None:
    """Neither is used nor named."""
    theirs = make_version(cast.stranger)

    with pytest.raises(Refused, match="not in this book"):
        plan_batch(
            cast.owner, version=theirs, purpose="sale", scale=scale_of(cast.maker), total_g=Decimal(10)
        )
    with pytest.raises(Refused, match="not in this book"):
        make_plan(cast.owner, scale=make_scale(cast.stranger.maker))


# -- short


def test_what_is_short_is_said_with_what_others_plan_to_take(by: By) -> None:
    """700 g needed, 900 g here, 300 g of it planned elsewhere: 100 g short."""
    oil, wax = make_ingredient(by.maker), make_ingredient(by.maker)
    version = make_version(by, percent_line(oil, "70"), percent_line(wax, "30"))
    batch = make_plan(by, version)
    lot_for(by, line_at(batch, 1), "900")
    lot_for(by, line_at(batch, 2), "300")
    assert shortages_of(by.maker, batch, by.today()) == []
    make_plan(by, make_version(by, percent_line(oil, "100")), total_g=Decimal(300))

    [short] = shortages_of(by.maker, batch, by.today())

    assert (short.ingredient, short.needed_g, short.here_g, short.others_g, short.short_g) == (
        oil, Decimal(700), Decimal(900), Decimal(300), Decimal(100),
    )  # fmt: skip


def test_a_lot_that_is_past_its_date_on_the_planned_day_does_not_count(by: By) -> None:
    """Good until tomorrow, planned for the day after."""
    tomorrow = by.today() + timedelta(days=1)
    version = make_version(by, percent_line(make_ingredient(by.maker), "100"))
    batch = make_plan(by, version, planned_for=tomorrow + timedelta(days=1))
    lot_for(by, line_at(batch), "2000", good_until=tomorrow)

    [short] = shortages_of(by.maker, batch, by.today())

    assert short.short_g == 1000


def test_what_is_weighed_is_needed_no_more(by: By) -> None:
    """The line that is in is not short, whatever is left of its lot."""
    version = make_version(by, percent_line(make_ingredient(by.maker), "100"))
    batch = make_making(by, version)

    weigh_line(by, batch)

    assert shortages_of(by.maker, batch, by.today()) == []


# -- start and giving up


def test_a_start_writes_its_four_checks_down(by: By) -> None:
    """One that was not so carries its note."""
    batch = make_plan(by)
    checks = [*ALL_YES[:3], (ALL_YES[3][0], False, "The scrub is still drying.")]

    started = start_batch(by, batch=batch, checks=checks)

    assert started.state == "making"
    assert started.started_at is not None
    assert list(Check.objects.values_list("passed", "note").order_by("pk"))[3] == (
        False,
        "The scrub is still drying.",
    )


@pytest.mark.parametrize(
    ("checks", "said"),
    [
        ([], "Look at this before the start"),
        (ALL_YES[:3], "Bench cleared"),
        ([*ALL_YES[:3], (ALL_YES[3][0], False, " ")], "Say why you start all the same"),
    ],
)
def test_a_start_without_its_checks_is_refused(by: By, checks: list[Any], said: str) -> None:
    """The batch stays planned and no check is kept."""
    batch = make_plan(by)

    with pytest.raises(Refused, match=said):
        start_batch(by, batch=batch, checks=checks)

    batch.refresh_from_db()
    assert batch.state == "planned"
    assert Check.objects.count() == 0


def test_a_batch_is_started_once(by: By) -> None:
    """The second tap is told the state."""
    batch = make_making(by)

    with pytest.raises(Refused, match="it can't be started again"):
        start_batch(by, batch=batch, checks=ALL_YES)


def test_a_plan_can_be_given_up_but_not_a_started_batch(by: By) -> None:
    """It is closed with a signature-like record and its reason; its code stays taken."""
    plan, started = make_plan(by, code="GONE"), make_making(by)

    given_up = give_up_batch(by, batch=plan, why="The order was called off.")

    assert given_up.state == "rejected"
    assert Release.objects.get(batch=plan).reasons == "The order was called off."
    with pytest.raises(Refused, match="already the code"):
        make_plan(by, code="GONE")
    with pytest.raises(Refused, match="was started"):
        give_up_batch(by, batch=started, why="x")
    with pytest.raises(Refused, match="rejected already"):
        give_up_batch(by, batch=plan, why="x")


# -- the database's last line


def test_lines_and_steps_of_a_closed_batch_stay(by: By) -> None:
    """Past the actions, too."""
    batch = make_plan(by)
    give_up_batch(by, batch=batch, why="x")

    for change in (
        lambda: BatchLine.objects.filter(batch=batch).update(planned_g=Decimal(1)),
        lambda: BatchLine.objects.filter(batch=batch).delete(),
        lambda: BatchStep(maker=by.maker, batch=batch, position=9, text="x").save(),
        lambda: Batch.objects.filter(pk=batch.pk).update(planned_g=Decimal(1)),
        lambda: Batch.objects.filter(pk=batch.pk).update(state="making"),
    ):
        with pytest.raises(IntegrityError), transaction.atomic():
            change()
