"""Packs that hold less than their label: asked about at packing, and again at the release."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.utils.html import escape

from batches.actions.making import fill, open_points
from batches.actions.selling import add_recipient, built_in, dispatch, pack_batch, set_up_places
from batches.actions.stock import close_hold
from batches.models import Batch, Hold, Output, Pack
from batches.rules.pack_fill import BY_VOLUME
from formulas.models import FormulaVersion, Product
from makers.actions import By, Refused
from makers.models import JournalEntry
from makers.registries import OpenPoint, release_checks
from tests.batches.making.factories_making import make_made, make_product, make_version, sign
from tests.batches.pages import url

D = Decimal
SHORT = "510 g in 11 packs is 46.36 g each; the label says 50 g."


@pytest.fixture
def version(by: By) -> FormulaVersion:
    """What the batch is made to."""
    set_up_places(by)
    return make_version(by)


@pytest.fixture
def product(version: FormulaVersion) -> Product:
    """A tin of 50 g."""
    return make_product(version, markets=["EU", "GB", "US"])


@pytest.fixture
def batch(by: By, version: FormulaVersion) -> Batch:
    """990 g of bulk."""
    return make_made(by, version)


def packed(by: By, batch: Batch, product: Product, units: int, grams: str, **fields: Any) -> Pack:
    """Packs of the batch."""
    return pack_batch(by, batch=batch, product=product, units=units, grams=D(grams), **fields)


def asked(batch: Batch) -> list[OpenPoint]:
    """What the release asks about fills."""
    return [one for one in open_points(batch) if one.name.startswith("fills")]


# -- at packing


def test_packs_that_hold_less_are_asked_about(by: By, batch: Batch, product: Product) -> None:
    """With the figures, beside the mass; nothing is written, and with the tick it goes on."""
    with pytest.raises(Refused) as refusal:
        packed(by, batch, product, 11, "510")

    assert refusal.value.message_dict == {
        "grams": [f"{SHORT} Look at both figures, or tick that they are filled so."]
    }
    assert not Pack.objects.exists()
    pack = packed(by, batch, product, 11, "510", although_short=True)
    assert (pack.units, pack.held) == (11, False)
    assert JournalEntry.objects.get(action="pack.packed").change["short"] == SHORT


def test_at_the_label_nothing_is_asked(by: By, batch: Batch, product: Product) -> None:
    """And a tick too many changes nothing."""
    packed(by, batch, product, 5, "250")
    packed(by, batch, product, 5, "250.1", although_short=True)

    assert asked(batch) == []


def test_by_volume_the_fill_weight_is_asked(by: By, batch: Batch, version: FormulaVersion) -> None:
    """What the label says is unknown by weight, and the sentence says so."""
    oil = make_product(version, net_amount=D(30), net_unit="ml", fill_g=D("27.6"), markets=["EU"])

    packed(by, batch, oil, 10, "276")
    with pytest.raises(Refused, match=BY_VOLUME):
        packed(by, batch, oil, 10, "270")


def test_the_form_comes_back_with_a_tick(at_home: Client, by: By, batch: Batch, product: Product) -> None:
    """Only where it is needed; all that was typed is there, and ticked it is written once."""
    at = url(by, "pack-add", code=batch.code)
    first = at_home.get(at)
    assert b"although_short" not in first.content
    data = {
        "product": product.pk,
        "units": "11",
        "grams": "510",
        "packed_on": f"{by.today():%Y-%m-%d}",
        "entry_key": str(first.context["form"]["entry_key"].value()),
    }

    came_back = at_home.post(at, data)

    assert came_back.status_code == 200
    page = came_back.content.decode().replace("\u00a0", " ")
    assert "Look at both figures, or tick that they are filled so." in page
    assert "<b>46.36 g</b> each; the label says <b>50 g</b>" in page
    assert 'type="checkbox" name="although_short"' in page
    assert 'value="510"' in page
    assert 'value="11"' in page
    assert not Output.objects.filter(kind="packs").exists()
    ticked = {**data, "although_short": "on"}
    assert [at_home.post(at, ticked).status_code for _ in range(2)] == [303, 303]
    assert Pack.objects.get().units == 11


def test_another_mistake_asks_for_no_tick(at_home: Client, by: By, batch: Batch, product: Product) -> None:
    """The tick belongs to the one question."""
    data = {"product": product.pk, "units": "11", "grams": "51o", "packed_on": f"{by.today():%Y-%m-%d}"}

    page = at_home.post(url(by, "pack-add", code=batch.code), data).content.decode()

    assert "although_short" not in page
    assert 'value="51o"' in page


def test_packed_after_the_release_they_stay_until_somebody_judges(
    by: By, batch: Batch, product: Product
) -> None:
    """The release is signed and asks no more, so the packs are on hold, with the figures as the cause."""
    sign(by, batch)
    batch.refresh_from_db()
    pack = packed(by, batch, product, 11, "510", although_short=True)
    full = packed(by, batch, product, 9, "450")
    line = (pack, 2, built_in(by, "workshop"))
    buyer = add_recipient(by, kind="shop", name="Saltmarsh Stores")

    assert (pack.held, full.held) == (True, False)
    hold = Hold.objects.get(pack=pack)
    assert hold.cause == f"{SHORT} Packed after the release."
    with pytest.raises(Refused, match="on hold until someone judges it"):
        dispatch(by, recipient=buyer, on=by.today(), lines=[line])
    close_hold(by, hold=hold, why="Sold as seconds, with a label of 45 g.")
    assert dispatch(by, recipient=buyer, on=by.today(), lines=[line]).entries.count() == 1


# -- at the release


def test_the_release_asks_about_short_packs_without_a_weighed_one(
    by: By, batch: Batch, product: Product
) -> None:
    """A reason is needed and kept with the release."""
    pack = packed(by, batch, product, 11, "510", although_short=True)

    [point] = asked(batch)
    assert (point.name, point.text, point.blocks) == (
        f"fills-{product.code}", f"{product}: {pack}, {SHORT}", False,
    )  # fmt: skip
    others = {one.name: "looked at" for one in open_points(batch) if one.name != point.name}
    with pytest.raises(Refused, match=r"Without a reason .* 46\.36 g each"):
        sign(by, batch, accepted=others)
    release = sign(by, batch, accepted={**others, point.name: "Sold as seconds, labelled 45 g."})
    assert {"name": point.name, "text": point.text, "reason": "Sold as seconds, labelled 45 g."} in (
        release.open_points
    )


def test_the_release_asks_about_weighed_containers(by: By, batch: Batch, product: Product) -> None:
    """The stop that the record shows is the release's question, in the same words."""
    packed(by, batch, product, 11, "550")
    fill(by, batch=batch, product=product, net_g=D("46.5"))

    [point] = asked(batch)
    assert point.text == (f"{product}: US: One pack weighs 46.5 g; the label says 50 g, with no allowance.")


def test_what_two_markets_say_stands_once(by: By, batch: Batch, product: Product) -> None:
    """Below twice the tolerable error of 4.5 g, in EU and GB alike."""
    fill(by, batch=batch, product=product, net_g=D("40.9"))

    [point] = asked(batch)
    assert "EU and GB: 1 pack below 41 g, which may not be sold so. Take out and top up." in point.text
    assert point.text.count("below 41 g") == 1


def test_what_can_not_be_judged_yet_is_no_stop(by: By, batch: Batch, version: FormulaVersion) -> None:
    """Two of twenty weighed, both full; and by volume nothing is judged by weight."""
    tin = make_product(version, markets=["EU"])
    oil = make_product(version, net_amount=D(30), net_unit="ml", fill_g=D("27.6"), markets=["EU", "US"])
    for product, grams in ((tin, "50.2"), (oil, "20")):
        fill(by, batch=batch, product=product, net_g=D(grams))
        fill(by, batch=batch, product=product, net_g=D(grams))

    assert asked(batch) == []


def test_the_record_says_that_a_volume_is_not_judged(
    at_home: Client, by: By, batch: Batch, version: FormulaVersion
) -> None:
    """Unknown, for each market."""
    oil = make_product(version, net_amount=D(30), net_unit="ml", fill_g=D("27.6"), markets=["EU"])
    fill(by, batch=batch, product=oil, net_g=D("27.7"))

    shown = at_home.get(url(by, "batch", code=batch.code)).content.decode()
    assert f"<b>30\u00a0ml</b>: {escape(BY_VOLUME)}." in shown


def test_a_label_in_ounces_is_judged(by: By, batch: Batch, version: FormulaVersion) -> None:
    """2 oz are 56.69904625 g."""
    tin = make_product(version, net_amount=D(2), net_unit="oz", fill_g=D(57), markets=["US"])
    fill(by, batch=batch, product=tin, net_g=D("56.7"))
    assert asked(batch) == []

    fill(by, batch=batch, product=tin, net_g=D("56.6"))

    assert "US: Mean of 2 packs 56.65 g" in asked(batch)[0].text


def test_a_trial_is_asked_nothing(by: By, version: FormulaVersion, product: Product) -> None:
    """It is never sold."""
    trial = make_made(by, version, purpose="trial")
    fill(by, batch=trial, product=product, net_g=D("20"))

    assert asked(trial) == []


def test_it_costs_as_much_for_many_as_for_few(
    by: By, batch: Batch, product: Product, django_assert_num_queries: Any
) -> None:
    """Two queries, for one pack or for six of two products."""
    [check] = [one for one in release_checks if one.name == "fills"]
    other = make_product(batch.version, net_amount=D(30))
    for made in (product, other, product, other, product, other):
        packed(by, batch, made, 1, "20", although_short=True)
        fill(by, batch=batch, product=made, net_g=D(20))

    with django_assert_num_queries(2):
        points = check.points(batch)
    assert len(points) == 2
