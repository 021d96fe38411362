"""Packs, dispatches and returns on screen: what was typed stays, twice is once, who may."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from batches.actions.making import amend_batch
from batches.actions.selling import add_place, built_in, move_units
from batches.actions.stock import close_hold, open_hold
from batches.models import Dispatch, Pack, PackBalance, Recipient, RetainedSample, Return
from formulas.models import Product
from makers.actions import By
from tests.batches.fixture import WHILE_GOOD, Example, on
from tests.cast import PASSWORD, Cast
from tests.formulas.pages import page, text_of, url
from tests.formulas.sent import sent_back

pytestmark = pytest.mark.django_db
SEND = "dispatches/add/"


def filled(
    client: Client, by: By, example: Example, *rows: tuple[str, str], **changes: str
) -> dict[str, Any]:
    """The dispatch form, filled for C1. rows: pack, units."""
    data = sent_back(client, url(by, SEND))
    data |= {"recipient": [str(example.people["C1"].pk)], "do": ["send"]}
    for index, (pack, units) in enumerate(rows):
        data |= {f"row-{index}-pack": [pack], f"row-{index}-units": [units]}
    return {**data, **{name: [value] for name, value in changes.items()}}


def shelf(example: Example, name: str = "P2") -> int:
    """Units of a pack in the workshop."""
    return PackBalance.objects.get(pack=example.packs[name], place__kind="workshop").units


def test_a_dispatch_of_two_packs_leaves_the_shelf(at_home: Client, by: By, example: Example) -> None:
    """One dispatch, two lines, and the page of it says so."""
    data = filled(at_home, by, example, (example.packs["P1"].code, "2"), (example.packs["P2"].code, "3"))

    response = at_home.post(url(by, SEND), data)

    assert response.status_code == 303
    assert (shelf(example, "P1"), shelf(example)) == (3, 27)
    assert example.packs["P2"].code in text_of(at_home.get(response["Location"]))


def test_the_same_form_sent_twice_is_one_dispatch(at_home: Client, by: By, example: Example) -> None:
    """A double tap: both answers lead to the one dispatch."""
    before = Dispatch.objects.count()
    data = filled(at_home, by, example, (example.packs["P2"].code, "3"))

    first, second = at_home.post(url(by, SEND), data), at_home.post(url(by, SEND), data)

    assert first["Location"] == second["Location"]
    assert Dispatch.objects.count() == before + 1
    assert shelf(example) == 27


@pytest.mark.parametrize(
    ("units", "sentence"),
    [
        ("31", "30 of "),
        ("0", ""),
        ("-2", ""),
        ("2.5", ""),
        ("1,5", ""),
        ("many", ""),
        ("", "How many of it?"),
    ],
)
def test_units_that_can_not_leave_come_back_as_typed(
    at_home: Client, by: By, example: Example, units: str, sentence: str
) -> None:
    """Nothing is sent, nothing typed is lost."""
    data = filled(at_home, by, example, (example.packs["P2"].code, units), reference="PO 7, the blue one")

    response = at_home.post(url(by, SEND), data)
    shown = text_of(response)

    assert response.status_code == 200
    assert sentence in shown
    assert "PO 7, the blue one" in shown
    assert f'value="{example.packs["P2"].code}"' in shown
    assert not units or f'value="{units}"' in shown
    assert shelf(example) == 30


def test_a_code_that_nobody_has_comes_back(at_home: Client, by: By, example: Example) -> None:
    """With what to do."""
    shown = text_of(at_home.post(url(by, SEND), filled(at_home, by, example, ("B9-Z", "1"))))

    assert "There is no pack B9-Z" in shown
    assert 'value="B9-Z"' in shown


def test_more_than_is_there_is_said_beside_the_pack(at_home: Client, by: By, example: Example) -> None:
    """The sentence stands at its row, the last of two that ask too much together; the head names the row."""
    pack = example.packs["P2"]
    data = filled(at_home, by, example, (pack.code, "1"), (pack.code, "9999"))

    page = at_home.post(url(by, SEND), data)

    first, second = page.context["rows"][:2]
    assert not first.errors
    assert "9999 can't leave" in " ".join(second.errors["units"])
    assert page.context["head"].tally.startswith("Nothing is written down yet: Units in pack 2 needs a hand.")
    assert not page.context["head"].errors


def test_a_shops_page_leads_to_writing_down_what_was_sold_there(
    at_home: Client, by: By, example: Example
) -> None:
    """The send form then starts from that place in every row."""
    shop = add_place(by, name="Eelmere Slipway Shelf", kind="shop")
    pack, home = example.packs["P2"], built_in(by, "workshop")
    move_units(on(by, WHILE_GOOD), pack=pack, units=4, from_place=home, to_place=shop)

    shown = page(at_home, by, f"places/{shop.code}/")
    rows = at_home.get(url(by, f"{SEND}?from={shop.code}")).context["rows"]

    assert f"{SEND}?from={shop.code}" in shown
    assert "Write down what was sold there" in shown
    assert {row["place"].value() for row in rows} == {shop.pk}


def test_moving_offers_no_way_to_where_the_packs_are(at_home: Client, by: By, example: Example) -> None:
    """All stand in the workshop: it is where they come from, and nothing is chosen for where they go."""
    stall = add_place(by, name="Stall box", kind="stall")
    form = at_home.get(url(by, f"packs/{example.packs['P2'].code}/move/")).context["form"]
    assert [one.kind for one in form.fields["place"].queryset] == ["workshop"]
    assert list(form.fields["to_place"].queryset) == [stall]

    add_place(by, name="Shelf", kind="shop")
    form = at_home.get(url(by, f"packs/{example.packs['P2'].code}/move/")).context["form"]
    assert "Choose where to" in str(form["to_place"])


def test_an_empty_list_is_no_dispatch(at_home: Client, by: By, example: Example) -> None:
    """At least one pack is chosen."""
    before = Dispatch.objects.count()

    assert "Nothing is on the list" in text_of(at_home.post(url(by, SEND), filled(at_home, by, example)))
    assert Dispatch.objects.count() == before


def test_a_day_to_come_is_asked_about(at_home: Client, by: By, example: Example) -> None:
    """A dispatch is written down on its day."""
    data = filled(at_home, by, example, (example.packs["P2"].code, "1"), on="2999-01-01")

    response = at_home.post(url(by, SEND), data)

    assert response.status_code == 200
    assert "2999-01-01" in text_of(response)
    assert shelf(example) == 30


def test_what_is_past_its_day_comes_back_as_typed(at_home: Client, by: By, example: Example) -> None:
    """The page says which pack, since when, and what to do; nothing is sent."""
    Pack.objects.filter(pk=example.packs["P2"].pk).update(best_before=by.today() - timedelta(days=1))
    data = filled(at_home, by, example, (example.packs["P2"].code, "3"), reference="PO 7, the blue one")

    response = at_home.post(url(by, SEND), data)
    shown = text_of(response)

    assert response.status_code == 200
    assert f"{example.packs['P2'].code} stays: it was best before" in shown
    assert "Destroy what is left" in shown
    assert "PO 7, the blue one" in shown
    assert 'value="3"' in shown
    assert shelf(example) == 30


@pytest.mark.parametrize("what", ["pack", "batch"])
def test_what_is_held_stays(at_home: Client, by: By, example: Example, what: str) -> None:
    """A hold on the pack or on its batch keeps it in the house."""
    held = {"pack": example.packs["P2"]} if what == "pack" else {"batch": example.batches["B2"]}
    open_hold(by, cause="smells of smoke", **held)

    shown = text_of(
        at_home.post(url(by, SEND), filled(at_home, by, example, (example.packs["P2"].code, "1")))
    )

    assert "is on hold" in shown
    assert shelf(example) == 30


HOLDS = {
    "pack": ("On hold", ["pack"]),
    "batch": ("Batch on hold", ["batch"]),
    "both": ("Pack and batch on hold", ["pack", "batch"]),
}


@pytest.mark.parametrize("held", HOLDS)
def test_what_is_held_is_said_wherever_the_pack_stands(
    at_home: Client, by: By, example: Example, held: str
) -> None:
    """The hold, its own or its batch's, comes before "Released"; ended, the pack is released again."""
    things: dict[str, Any] = {"pack": example.packs["P1"], "batch": example.batches["B1"]}
    words, names = HOLDS[held]
    code = example.packs["P1"].code
    paths = [
        f"packs/{code}/",
        "packs/",
        f"places/{built_in(by, 'workshop').code}/",
        f"dispatches/{example.sent['D1'].code}/",
        f"returns/{example.came_back.code}/",
        f"trace/?q={code}",
    ]
    before = [page(at_home, by, path) for path in paths]
    holds = [open_hold(by, cause=f"smoke in the {name}", **{name: things[name]}) for name in names]

    shown = [page(at_home, by, path) for path in paths]
    choice = page(at_home, by, SEND)
    for hold in holds:
        close_hold(by, hold=hold, why="aired, nothing found")
    after = page(at_home, by, paths[0])

    assert [f"</svg>{words}</span>" in one for one in shown] == [True] * len(paths)
    assert [f"</svg>{words}</span>" in one for one in before] == [False] * len(paths)
    assert f'value="{code}">{example.product}, {words.lower()}<' in choice
    assert all(f"smoke in the {name}" in shown[0] for name in names)
    assert "</svg>Released</span>" not in shown[0]
    assert "</svg>Released</span>" in after


def test_a_recipient_of_another_maker_is_not_on_the_list(
    at_home: Client, by: By, example: Example, cast: Cast
) -> None:
    """A foreign key in a hand-made form is not found."""
    theirs = Recipient.objects.create(maker=cast.stranger.maker, code="TO-9", kind="shop", made_at=by.now())
    data = filled(at_home, by, example, (example.packs["P2"].code, "1"), recipient=str(theirs.pk))

    response = at_home.post(url(by, SEND), data)

    assert response.status_code == 200
    assert shelf(example) == 30


def test_more_rows_keep_what_was_typed(at_home: Client, by: By, example: Example) -> None:
    """Making room sends nothing."""
    data = filled(at_home, by, example, (example.packs["P2"].code, "3"), do="more")

    shown = text_of(at_home.post(url(by, SEND), data))

    assert 'name="row-7-pack"' in shown
    assert f'value="{example.packs["P2"].code}"' in shown
    assert shelf(example) == 30


def test_samples_are_kept_back(at_home: Client, by: By, example: Example) -> None:
    """From the shelf to the kept samples, with where they lie."""
    path = f"packs/{example.packs['P2'].code}/keep/"
    before = RetainedSample.objects.count()

    assert at_home.post(url(by, path), {"units": "2", "where": "cellar"}).status_code == 303
    refused = text_of(at_home.post(url(by, path), {"units": "99", "where": "the cellar"}))

    assert RetainedSample.objects.count() == before + 1
    assert shelf(example) == 28
    assert 'value="the cellar"' in refused
    assert "28 of" in refused


def test_a_return_is_taken_and_judged(at_home: Client, by: By, example: Example) -> None:
    """At most what went out comes back; judging puts it on the shelf again."""
    path = f"dispatches/{example.sent['D3'].code}/return/{example.packs['P2'].code}/"
    data = sent_back(at_home, url(by, path))

    too_many = text_of(at_home.post(url(by, path), {**data, "units": ["81"], "reason": ["too many"]}))
    at_home.post(url(by, path), {**data, "units": ["2"], "reason": ["wrong scent"]})
    came_back = Return.objects.latest("pk")
    judge = f"returns/{came_back.code}/"
    verdict = {"units": "2", "verdict": "restore", "why": "sealed, looked at"}
    at_home.post(url(by, judge), verdict)
    again = text_of(at_home.post(url(by, judge), verdict))

    assert "write 1 to 80" in too_many
    assert "too many" in too_many
    assert came_back.units == 2
    assert shelf(example) == 32
    assert "0 wait to be judged" in again or "2 wait" not in again


@pytest.mark.parametrize(
    "path", ["packs/", "places/", "recipients/", "dispatches/", SEND, "packs/{pack}/", "packs/{pack}/move/"]
)
def test_who_may_look(client: Client, cast: Cast, by: By, example: Example, path: str) -> None:
    """A stranger finds nothing; a reader looks and does not write."""
    address = url(by, path.format(pack=example.packs["P2"].code))

    client.force_login(cast.stranger.user)
    assert client.get(address).status_code == 404
    client.force_login(cast.reader.user)
    assert client.get(address).status_code == 200
    assert client.post(address, {}).status_code == 403


def test_a_list_is_also_a_csv(at_home: Client, by: By, example: Example) -> None:
    """One line for each pack, below the heads."""
    assert len(page(at_home, by, "packs/?as=csv").strip().splitlines()) == 3


def tender(example: Example, degrees: str = "28") -> None:
    """The example's product is not sent above some temperature."""
    Product.objects.filter(pk=example.product.pk).update(not_above_c=Decimal(degrees))


def test_heat_is_a_caution_on_the_way_out_and_blocks_nothing(
    at_home: Client, by: By, example: Example
) -> None:
    """The pack, the form that sends it and the dispatch say the temperature; the packs go."""
    tender(example)
    code = example.packs["P2"].code
    words = "Look at the forecast for the way."
    figure = 'not sent above <span class="no-break">28 °C'

    form = text_of(at_home.get(url(by, f"{SEND}?pack={code}")))

    assert figure in text_of(at_home.get(url(by, f"packs/{code}/")))
    assert figure in form
    assert words in form
    response = at_home.post(url(by, SEND), filled(at_home, by, example, (code, "3")))

    assert response.status_code == 303
    assert figure in text_of(at_home.get(response["Location"]))


def test_no_rule_about_heat_is_no_word_about_it(at_home: Client, by: By, example: Example) -> None:
    """A caution that stands everywhere is read nowhere: a form without such a pack says nothing."""
    code = example.packs["P2"].code
    assert "not sent above" not in text_of(at_home.get(url(by, f"packs/{code}/")))
    tender(example)

    assert "not sent above" not in text_of(at_home.get(url(by, SEND)))


def test_a_form_that_comes_back_keeps_the_caution(at_home: Client, by: By, example: Example) -> None:
    """Too many units of a pack typed by hand: the refusal and the heat stand together."""
    tender(example)
    data = filled(at_home, by, example, (example.packs["P2"].code.lower(), "31"))

    shown = text_of(at_home.post(url(by, SEND), data))

    assert "30 of " in shown
    assert 'not sent above <span class="no-break">28 °C' in shown


def test_a_pack_offers_to_send_once_its_batch_is_released(at_home: Client, by: By, example: Example) -> None:
    """Before that it says what it waits for: here an amendment took the release back."""
    pack = example.packs["P2"]
    before = text_of(at_home.get(url(by, f"packs/{pack.code}/")))
    amend_batch(by, batch=pack.batch, what="the pH", why="the strip was old", password=PASSWORD)

    after = text_of(at_home.get(url(by, f"packs/{pack.code}/")))

    assert ("Send some" in before, "waits for release" in before) == (True, False)
    assert ("Send some" in after, "waits for release" in after) == (False, True)
