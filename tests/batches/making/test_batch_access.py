"""Who may see and write a batch, how many queries its pages take, and where else it shows."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from batches.actions.making import amend_batch, deviate, fill, read, yield_output
from batches.actions.stock import open_hold
from batches.contributions_making import find, in_hand
from batches.contributions_stock import today_holds
from batches.models import Batch, Release
from makers.actions import By
from makers.models import JournalEntry
from makers.registries import today_items
from tests.batches.making.factories_making import (
    make_accounted,
    make_house_lot,
    make_made,
    make_making,
    make_plan,
    make_product,
    make_released,
    make_version,
    percent_line,
    weigh_all,
)
from tests.batches.pages import act_on, text_of, url
from tests.batches.stock.factories_stock import make_ingredient
from tests.cast import PASSWORD, Cast

# -- who may


def addresses(by: By, batch: Batch) -> list[str]:
    """Every page of a batch."""
    weighing = batch.weighings.first()
    assert weighing is not None
    output = batch.outputs.first() or yield_output(by, batch=batch, kind="waste", grams=Decimal(1))
    deviation = batch.deviations.first() or deviate(by, batch=batch, text="x")
    return [
        url(by, "batches"),
        url(by, "plan"),
        url(by, "batch", code=batch.code),
        url(by, "bench", code=batch.code),
        url(by, "weighing-back", code=batch.code, uuid=weighing.uuid),
        url(by, "output-back", code=batch.code, uuid=output.uuid),
        url(by, "deviation", code=batch.code, uuid=deviation.uuid),
    ]


def test_a_stranger_finds_nothing(client: Client, cast: Cast) -> None:
    """Not even that there is a batch; nor does a member of one house reach another's batch by its code."""
    batch = make_made(cast.owner)
    pages = addresses(cast.owner, batch)
    client.force_login(cast.stranger.user)

    for page in pages:
        assert client.get(page).status_code == 404
        assert client.post(page, {}).status_code == 404
    assert client.get(url(cast.stranger, "batch", code=batch.code)).status_code == 404


def test_a_reader_sees_all_and_writes_nothing(client: Client, cast: Cast) -> None:
    """403 for every form; no form is offered."""
    batch = make_made(cast.owner)
    pages = addresses(cast.owner, batch)
    before = JournalEntry.objects.count()
    client.force_login(cast.reader.user)

    for page in pages[:4]:
        assert client.get(page).status_code == 200
    for page in [
        *pages[1:],
        url(cast.owner, "batch-act", code=batch.code, act="note"),
        url(cast.owner, "bench-pot", code=batch.code),
    ]:
        assert client.post(page, {"text": "x"}).status_code in (403, 405)
    assert JournalEntry.objects.count() == before
    assert (
        'method="post"' not in client.get(pages[2]).content.decode().split('id="main"')[1].split("</main>")[0]
    )


def test_a_worker_does_not_sign(client: Client, cast: Cast) -> None:
    """The page says who does."""
    batch = make_made(cast.owner)
    client.force_login(cast.worker.user)

    assert "It waits for an owner to judge it" in text_of(
        client.get(url(cast.owner, "batch", code=batch.code))
    )
    response = act_on(
        client, cast.owner, batch, "release", decision="rejected", reasons="x", password=PASSWORD
    )
    assert response.status_code == 403
    assert not Release.objects.exists()


# -- how many queries


def test_pages_take_the_same_queries_at_two_sizes(
    at_home: Client, by: By, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    """One batch of two lines, or many of ten with everything on the record."""

    def count(page: str) -> int:
        with django_assert_max_num_queries(90) as seen:
            assert at_home.get(page).status_code == 200
        return len(seen)

    small = make_made(by)
    listing = url(by, "batches")
    first = [
        count(listing),
        count(url(by, "batch", code=small.code)),
        count(url(by, "bench", code=small.code)),
    ]
    share = [percent_line(make_ingredient(by.maker), "10") for _ in range(10)]
    version = make_version(by, *share, steps=[{"phase": "A", "text": "Melt", "min_c": Decimal(70)}] * 4)
    product = make_product(version, markets=["EU"])
    big = make_making(by, version)
    weigh_all(by, big)
    for number in range(6):
        read(by, batch=big, kind="temperature", value=Decimal(80 - number))
        fill(by, batch=big, product=product, net_g=Decimal(50))
        deviate(by, batch=big, text=f"Thing {number}")
    from batches.actions.making import finish_batch

    finish_batch(by, batch=big, bulk_g=Decimal(990))
    for _ in range(4):
        yield_output(by, batch=big, kind="sample", grams=Decimal(1), where="R3")
    for _ in range(8):
        make_plan(by)

    second = [count(listing), count(url(by, "batch", code=big.code)), count(url(by, "bench", code=big.code))]

    assert second[0] == first[0]
    assert second[1] - first[1] <= 4, (first, second)  # the markets of the filled product are asked once more
    assert second[2] == first[2]


# -- Today, search


def test_today_names_what_is_in_hand(by: By) -> None:
    """On the bench first, then what waits for release, what is planned, what stands still."""
    make_making(by)
    make_accounted(by)
    make_plan(by, planned_for=by.today())
    held = make_released(by)
    open_hold(by, batch=held, cause="x")
    make_released(by)

    items = {item.word: item for item in [*in_hand(by.maker, by.today()), *today_holds(by.maker, by.today())]}

    assert set(items) == {"Making", "Made", f"{by.today():%Y-%m-%d}", "Hold"}
    assert items["Making"].act_url.endswith("/bench/")
    assert items[f"{by.today():%Y-%m-%d}"].now is True


@pytest.mark.parametrize("make", [make_plan, make_making, make_accounted, make_released])
def test_today_names_a_held_batch_once(by: By, make: Callable[[By], Batch]) -> None:
    """By its hold, with the cause; not again as a batch in hand."""
    held = make(by)
    open_hold(by, batch=held, cause="Smells of paint.")

    found = [item for source in today_items for item in source.items(by.maker, by.today())]

    assert [item.word for item in found if held.code in item.text] == ["Hold"]


def test_a_batch_is_found_by_its_formula(by: By, cast: Cast) -> None:
    """And not by another maker."""
    batch = make_plan(by, make_version(by, name="Marram balm"))

    assert [found.code for found in find(by.maker, "marram", 5)] == [batch.code]
    assert find(cast.stranger.maker, "marram", 5) == []


def test_an_in_house_lot_links_its_batch_and_a_closed_one_can_be_reopened(at_home: Client, by: By) -> None:
    """From the lot to the batch; after an amendment the release reads as void."""
    lot = make_house_lot(by)
    assert lot.from_batch is not None
    assert "Put on stock 400.0" in text_of(at_home.get(url(by, "batch", code=lot.from_batch.code)))
    batch = make_released(by)
    amend_batch(by, batch=batch, what="x", why="y", password=PASSWORD)

    assert "void since an amendment" in text_of(at_home.get(url(by, "batch", code=batch.code)))
