"""Holds on a batch and on a pack: put on and ended on screen, said wherever they act, kept by the database."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from batches.actions.selling import add_place, built_in, dispatch, move_units, there
from batches.actions.stock import close_hold, open_hold
from batches.contributions_stock import hold_faults, today_holds
from batches.models import Batch, Hold, Pack, PackEntry
from makers.actions import By, Refused
from makers.models import JournalEntry
from tests.batches.fixture import Example
from tests.batches.pages import act_on, text_of, url
from tests.cast import Cast

pytestmark = pytest.mark.django_db
CAUSE = "Smells of turpentine."


@pytest.fixture
def pack(example: Example) -> Pack:
    """30 units of it are in the workshop."""
    pack: Pack = Pack.objects.select_related("batch").get(pk=example.packs["P2"].pk)
    return pack


def ended(at_home: Client, by: By, hold: Hold) -> None:
    """End a hold on its page."""
    at_home.post(url(by, "hold", uuid=hold.uuid), {"why": "The jar beside it smelled."})


def test_a_batch_is_put_on_hold_and_let_go_on_screen(at_home: Client, by: By, pack: Pack) -> None:
    """With its cause on the batch's page, the pack's and both lists; ended with its reason, both stay."""
    batch = pack.batch
    response = act_on(at_home, by, batch, "hold", cause=CAUSE)

    assert (response.status_code, response["Location"]) == (303, url(by, "batch", code=batch.code))
    hold = Hold.objects.get(batch=batch)
    assert f"On hold since today {hold.opened_at.astimezone(by.maker.zone):%H:%M}" in text_of(
        at_home.get(url(by, "batch", code=batch.code))
    )
    shown = text_of(at_home.get(url(by, "pack", code=pack.code)))
    assert f"Batch {batch.code} is on hold" in shown.replace("\u2011", "-")
    assert "30 units in the house stay" in shown
    assert "Send some" not in shown
    assert batch.code in text_of(at_home.get(url(by, "batches"), {"state": "hold"}))
    assert "Batch on hold" in text_of(at_home.get(url(by, "packs")))

    ended(at_home, by, hold)

    shown = text_of(at_home.get(url(by, "batch", code=batch.code)))
    assert "On hold since" not in shown
    assert f"{CAUSE} Ended" in shown
    assert "The jar beside it smelled." in shown
    assert [one.action for one in JournalEntry.objects.order_by("-number")[:2]] == [
        "hold.closed",
        "hold.opened",
    ]


def test_a_pack_is_put_on_hold_and_let_go_on_screen(at_home: Client, by: By, pack: Pack) -> None:
    """The other packs of its batch, and the batch, are not."""
    response = at_home.post(url(by, "pack-hold", code=pack.code), {"cause": CAUSE})

    assert response["Location"] == url(by, "pack", code=pack.code)
    pack.refresh_from_db()
    assert (pack.held, Batch.objects.get(pk=pack.batch_id).held) == (True, False)
    shown = text_of(at_home.get(url(by, "pack", code=pack.code)))
    assert CAUSE in shown
    assert "Send some" not in shown

    ended(at_home, by, Hold.objects.get(pack=pack))

    pack.refresh_from_db()
    assert pack.held is False
    assert "Send some" in text_of(at_home.get(url(by, "pack", code=pack.code)))
    assert hold_faults(by.maker) == []


@pytest.mark.parametrize("on", ["batch", "pack"])
def test_what_is_on_hold_goes_to_nobody(by: By, example: Example, pack: Pack, on: str) -> None:
    """Neither sent nor to a shop; within the house it moves; afterwards it is sent."""
    held = (
        open_hold(by, cause=CAUSE, batch=pack.batch)
        if on == "batch"
        else open_hold(by, cause=CAUSE, pack=pack)
    )
    shop = add_place(by, name="Eelmere Slipway Shelf", kind="shop")
    stall = add_place(by, name="Tidegate stall", kind="stall")
    workshop = built_in(by, "workshop")

    with pytest.raises(Refused, match="is on hold until someone judges it"):
        dispatch(by, recipient=example.people["C1"], on=by.today(), lines=[(pack, 2, workshop)])
    with pytest.raises(Refused, match="is on hold until someone judges it"):
        move_units(by, pack=pack, units=2, from_place=workshop, to_place=shop)
    move_units(by, pack=pack, units=2, from_place=workshop, to_place=stall)
    assert (there(pack, workshop), there(pack, stall), there(pack, shop)) == (28, 2, 0)

    close_hold(by, hold=held, why="judged")
    dispatch(by, recipient=example.people["C1"], on=by.today(), lines=[(pack, 2, workshop)])

    assert there(pack, workshop) == 26


@pytest.mark.parametrize("on", ["batch", "pack"])
@pytest.mark.parametrize("kind", ["dispatched", "moved"])
def test_past_the_action_the_database_refuses_too(by: By, pack: Pack, on: str, kind: str) -> None:
    """A row written directly, out of the house or to a shop; the same row passes once the hold has ended."""
    shop = add_place(by, name="Eelmere Slipway Shelf", kind="shop")
    from batches.models import PackBalance

    PackBalance.objects.get_or_create(maker=by.maker, pack=pack, place=shop)
    held = (
        open_hold(by, cause=CAUSE, batch=pack.batch)
        if on == "batch"
        else open_hold(by, cause=CAUSE, pack=pack)
    )

    def write() -> None:
        with transaction.atomic():
            PackEntry.objects.create(
                maker=by.maker, pack=pack, kind=kind, units=1, from_place=built_in(by, "workshop"),
                to_place=shop if kind == "moved" else None, occurred_at=by.now(), entered_at=by.now(),
                user=by.user,
            )  # fmt: skip

    with pytest.raises(IntegrityError, match="without a hold leave the house"):
        write()
    close_hold(by, hold=held, why="judged")
    write()

    assert there(pack, built_in(by, "workshop")) == 29


def test_today_names_both_with_their_cause(by: By, pack: Pack) -> None:
    """And leads to where they are ended."""
    open_hold(by, cause=CAUSE, batch=pack.batch)
    held = open_hold(by, cause="Lids leak.", pack=pack)

    items = today_holds(by.maker, by.today())

    assert [item.text for item in items] == [
        f"{pack.product}, packs {pack.code}: Lids leak.",
        f"{pack.batch.formula}, batch {pack.batch.code}: Smells of turpentine.",
    ]
    assert items[0].url == url(by, "hold", uuid=held.uuid)


def test_without_a_cause_or_a_reason_nothing_is_written(at_home: Client, by: By, pack: Pack) -> None:
    """The sentence stands beside the field, the fold open."""
    refused = act_on(at_home, by, pack.batch, "hold", cause="  ")
    assert refused.status_code == 200
    assert '<details class="no-print" open id="hold">' in refused.content.decode()
    assert (
        'aria-invalid="true"'
        in at_home.post(url(by, "pack-hold", code=pack.code), {"cause": ""}).content.decode()
    )
    assert not Hold.objects.exists()
    held = open_hold(by, cause=CAUSE, pack=pack)

    assert (
        'aria-invalid="true"' in at_home.post(url(by, "hold", uuid=held.uuid), {"why": " "}).content.decode()
    )
    held.refresh_from_db()
    assert held.closed_at is None


def test_a_hold_is_ended_once(at_home: Client, by: By, pack: Pack) -> None:
    """The second hand is told who did."""
    held = open_hold(by, cause=CAUSE, batch=pack.batch)
    ended(at_home, by, held)

    shown = text_of(at_home.post(url(by, "hold", uuid=held.uuid), {"why": "Again."}))

    assert f", {by.user}" in shown.split("Ended")[-1]
    assert Hold.objects.get().closed_why == "The jar beside it smelled."


def test_strangers_find_nothing_and_readers_write_nothing(client: Client, cast: Cast, pack: Pack) -> None:
    """404 and 403; the reader sees the hold, and no form."""
    held = open_hold(cast.owner, cause=CAUSE, pack=pack)
    acts = [
        url(cast.owner, "pack-hold", code=pack.code),
        url(cast.owner, "batch-act", code=pack.batch.code, act="hold"),
        url(cast.owner, "hold", uuid=held.uuid),
    ]
    data = {"cause": "x", "hold-cause": "x", "why": "x"}
    client.force_login(cast.stranger.user)
    assert [client.post(one, data).status_code for one in acts] == [404, 404, 404]
    own = url(cast.stranger, "hold", uuid=held.uuid), url(cast.stranger, "hold", uuid=uuid4())
    assert [client.post(one, data).status_code for one in own] == [404, 404]

    client.force_login(cast.reader.user)
    assert [client.post(one, data).status_code for one in acts] == [403, 403, 403]
    shown = client.get(url(cast.owner, "pack", code=pack.code)).content.decode()
    assert CAUSE in shown
    assert "Put it on hold" not in shown
    assert Hold.objects.count() == 1


def test_a_mark_past_the_product_is_found(by: By, pack: Pack) -> None:
    """On a batch and on a pack as on a lot."""
    Batch.objects.filter(pk=pack.batch_id).update(held=True)
    Pack.objects.filter(pk=pack.pk).update(held=True)

    assert [(one.where, one.text) for one in hold_faults(by.maker)] == [
        (f"batch {pack.batch.code}", "It says it is on hold, and no hold is open."),
        (f"pack {pack.code}", "It says it is on hold, and no hold is open."),
    ]
