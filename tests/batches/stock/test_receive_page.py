"""Receiving a delivery and counting in the shelf, on screen; the pages of deliveries."""

from __future__ import annotations

import re
from decimal import Decimal
from html import unescape
from typing import Any

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from batches.models import Delivery, Lot
from formulas.models import Supplier
from makers.actions import By
from makers.models import Document, JournalEntry
from tests.batches.pages import text_of, url
from tests.batches.stock.factories_stock import (
    line,
    make_article,
    make_ingredient,
    make_source,
    make_supplier,
    make_upload,
    receive,
)
from tests.cast import Cast


def head(by: By, **changes: Any) -> dict[str, Any]:
    """The head of a delivery as a browser sends it."""
    return {
        "supplier": "",
        "new_supplier": "",
        "received_on": f"{by.today()}",
        "reference": "",
        "currency": "EUR",
        "freight": "",
        "note": "",
        "lines": "3",
        "write": "yes",
        **changes,
    }


def row(number: int, thing: str, amount: str = "1000", unit: str = "g", **changes: Any) -> dict[str, Any]:
    """One line of the page as a browser sends it."""
    fields = {
        "thing": thing, "amount_amount": amount, "amount_unit": unit, "supplier_lot": "", "good_until": "",
        "date_kind": "expiry", "cost": "", "code": "", **changes,
    }  # fmt: skip
    return {f"line-{number}-{name}": value for name, value in fields.items()}


def test_a_delivery_is_written_and_its_empty_lines_left_out(at_home: Client, by: By) -> None:
    """Two lines of three; a month on the pack means its last day; freight by value."""
    supplier, oil, jar = make_supplier(by.maker), make_ingredient(by.maker), make_article(by.maker)
    data = {
        **head(by, supplier=supplier.pk, reference="DN-4411", freight="6.00"),
        **row(0, f"i-{oil.uuid}", "2.5", "kg", supplier_lot="AB-114", good_until="05/2028", cost="40"),
        **row(1, ""),
        "line-1-amount_amount": "",
        **row(2, f"a-{jar.uuid}", "120", "pieces", cost="20.00"),
        "line-0-document": make_upload("coa.pdf"),
    }

    response = at_home.post(url(by, "receive"), data)

    delivery = Delivery.objects.get()
    assert response["Location"] == url(by, "delivery", code=delivery.code)
    first, second = delivery.lots.order_by("id")
    assert (first.on_hand, first.supplier_lot, f"{first.good_until}", first.cost) == (
        2500,
        "AB-114",
        "2028-05-31",
        44,
    )
    assert (second.on_hand, second.unit, second.cost) == (120, "pieces", 22)
    assert Document.objects.get().about == first.uuid
    assert "2 lots in quarantine" in text_of(at_home.get(response["Location"]))


def test_a_new_supplier_is_added_with_the_delivery(at_home: Client, by: By) -> None:
    """And not twice: the name of one that is known finds it."""
    oil = make_ingredient(by.maker)

    for name in ("Dunlin Oils", "dunlin oils"):
        response = at_home.post(
            url(by, "receive"), {**head(by, new_supplier=name), **row(0, f"i-{oil.uuid}")}
        )
        assert response.status_code == 303

    assert Supplier.objects.get().name == "Dunlin Oils"


def test_a_refused_delivery_adds_no_supplier(at_home: Client, by: By) -> None:
    """The new supplier stays out with the delivery."""
    oil = make_ingredient(by.maker)
    data = {**head(by, new_supplier="Dunlin Oils", freight="5"), **row(0, f"i-{oil.uuid}")}

    response = at_home.post(url(by, "receive"), data)

    assert "line 1 has none" in text_of(response)
    assert not Supplier.objects.exists()


def test_what_a_supplier_sells_comes_first(at_home: Client, by: By) -> None:
    """Chosen by its article, the lot knows its source."""
    supplier, oil = make_supplier(by.maker, "Knot Butters"), make_ingredient(by.maker, "Shea")
    source = make_source(oil, supplier, "KB-7")

    page = at_home.get(url(by, "receive"), {"supplier": supplier.pk}).content.decode()
    at_home.post(url(by, "receive"), {**head(by, supplier=supplier.pk), **row(0, f"s-{source.uuid}")})

    assert 'label="Sold by Knot Butters"' in page
    assert "Shea: KB-7" in page
    assert Lot.objects.get().source == source


def test_an_ingredient_named_by_the_address_is_chosen(at_home: Client, by: By) -> None:
    """From the ingredient's page the first line is filled in."""
    oil = make_ingredient(by.maker)

    for name in ("receive", "count-in"):
        page = at_home.get(url(by, name), {"ingredient": oil.code}).content.decode()
        assert f'<option value="i-{oil.uuid}" selected>' in page


@pytest.mark.parametrize("button", [{"more": "3"}, {"sells": "yes"}])
def test_more_lines_keep_what_was_typed(at_home: Client, by: By, button: dict[str, str]) -> None:
    """Nothing is checked and nothing is lost, however odd."""
    oil = make_ingredient(by.maker)
    data = {
        **head(by, reference="DN-4411", received_on="the other day"),
        **row(1, f"i-{oil.uuid}", "2,5x", "lb", supplier_lot="AB", good_until="soon", cost="?"),
    }
    del data["write"]

    page = at_home.post(url(by, "receive"), {**data, **button}).content.decode()

    for typed in ("DN-4411", "the other day", "2,5x", "AB", "soon", "?"):
        assert f'value="{typed}"' in page
    assert f'<option value="i-{oil.uuid}" selected>' in page
    assert '<option value="lb" selected>' in page
    assert page.count("<legend>Line ") == (6 if "more" in button else 3)
    assert 'class="wrong"' not in page
    assert not Delivery.objects.exists()


def test_every_wrong_field_has_its_sentence_at_once(at_home: Client, by: By) -> None:
    """What was typed stays; nothing is written."""
    oil, jar = make_ingredient(by.maker), make_article(by.maker)
    data = {
        **head(by, received_on="2026-13-01", freight="2,5"),
        **row(0, f"i-{oil.uuid}", "1.000,5"),
        **row(1, f"a-{jar.uuid}", "3", "kg"),
        **row(2, "", "12"),
    }

    response = at_home.post(url(by, "receive"), data)

    page = response.content.decode()
    assert response.status_code == 200
    assert "Choose who sent it" in text_of(response)
    assert "Choose what this line is." in text_of(response)
    for typed in ("2026-13-01", "2,5", "1.000,5", "12"):
        assert f'value="{typed}"' in page
    assert page.count('class="wrong"') >= 5
    assert not Lot.objects.exists()


def test_an_actions_refusal_stands_beside_its_line(at_home: Client, by: By) -> None:
    """The third line's code is taken; the sentence is in the third line."""
    receive(by, line(make_ingredient(by.maker), code="MINE-1"))
    oil = make_ingredient(by.maker)
    data = {
        **head(by, new_supplier="Dunlin"),
        **row(0, f"i-{oil.uuid}"),
        **row(2, f"i-{oil.uuid}", code="MINE-1"),
    }

    page = at_home.post(url(by, "receive"), data).content.decode()

    third = page[page.index("<legend>Line 3") :]
    assert "already the code of a lot" in unescape(third)
    assert Lot.objects.count() == 1


def test_an_empty_delivery_is_told(at_home: Client, by: By) -> None:
    """With a supplier and no line."""
    response = at_home.post(url(by, "receive"), head(by, supplier=make_supplier(by.maker).pk))

    assert "Nothing came yet" in text_of(response)


@pytest.mark.parametrize("lines", ["-1", "abc", "999999999999", "", "\u0663", "201"])
def test_a_number_of_lines_that_is_none_harms_nothing(at_home: Client, by: By, lines: str) -> None:
    """The page holds what a delivery can hold."""
    response = at_home.post(url(by, "receive"), {"lines": lines, "more": lines})

    assert response.status_code == 200
    assert response.content.count(b"<legend>Line ") <= 200


def test_another_makers_things_are_not_offered_and_not_taken(at_home: Client, cast: Cast) -> None:
    """Their supplier, ingredient and article are no choices."""
    by, theirs = cast.owner, make_ingredient(cast.stranger.maker, "Their oil")
    supplier = make_supplier(cast.stranger.maker, "Their supplier")

    page = text_of(at_home.get(url(by, "receive"), {"supplier": supplier.pk}))
    response = at_home.post(
        url(by, "receive"), {**head(by, supplier=supplier.pk), **row(0, f"i-{theirs.uuid}")}
    )

    assert "Their oil" not in page
    assert "Their supplier" not in page
    assert response.status_code == 200
    assert not Lot.objects.exists()


def test_a_delivery_sent_twice_is_one(at_home: Client, by: By) -> None:
    """The form carries a key."""
    oil = make_ingredient(by.maker)
    page = at_home.get(url(by, "receive")).content.decode()
    key = re.search(r'name="entry_key" value="([0-9a-f-]{36})"', page)
    assert key
    data = {**head(by, new_supplier="Dunlin", entry_key=key.group(1)), **row(0, f"i-{oil.uuid}")}

    sent = [at_home.post(url(by, "receive"), data) for _ in range(2)]

    assert sent[0]["Location"] == sent[1]["Location"]
    assert Lot.objects.count() == 1


def test_the_key_stays_while_the_form_comes_back(at_home: Client, by: By) -> None:
    """Otherwise a repeat after "add lines" would be a second delivery."""
    data = head(by, entry_key="7b4f4e0e-5a57-4a5d-9a37-5f2f3f1c9a11")
    del data["write"]

    page = at_home.post(url(by, "receive"), {**data, "more": "3"}).content.decode()

    assert 'value="7b4f4e0e-5a57-4a5d-9a37-5f2f3f1c9a11"' in page


@pytest.mark.parametrize("count", [1, 30])
def test_the_page_of_lines_asks_the_same_number_of_questions(
    at_home: Client, by: By, count: int, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    """One line or thirty, one ingredient or thirty."""
    for _ in range(count):
        make_ingredient(by.maker)

    with django_assert_max_num_queries(10):
        at_home.post(url(by, "receive"), {"lines": str(count), "sells": "yes"})


def test_the_shelf_is_counted_in_one_after_the_other(at_home: Client, by: By) -> None:
    """Written, then the next; the lot's origin is the opening count."""
    jar = make_article(by.maker)
    fields = {
        key.removeprefix("line-0-"): value for key, value in row(0, f"a-{jar.uuid}", "24", "pieces").items()
    }

    response = at_home.post(url(by, "count-in"), {**fields, "next": "yes"})

    assert response["Location"] == url(by, "count-in")
    lot = Lot.objects.get()
    assert (lot.origin, lot.on_hand) == ("opening", Decimal(24))


def test_a_count_without_an_amount_comes_back(at_home: Client, by: By) -> None:
    """With the sentence, and what was chosen."""
    oil = make_ingredient(by.maker)

    response = at_home.post(
        url(by, "count-in"), {"thing": f"i-{oil.uuid}", "amount_amount": "", "amount_unit": "g"}
    )

    assert "Write how much is there." in text_of(response)
    assert f'<option value="i-{oil.uuid}" selected>' in response.content.decode()


def test_deliveries_are_listed_and_found(at_home: Client, by: By) -> None:
    """By supplier or by their reference; as CSV too."""
    supplier = make_supplier(by.maker, "Curlew Oils")
    mine = receive(by, line(make_ingredient(by.maker)), supplier=supplier, reference="DN-1")
    other = receive(by, line(make_ingredient(by.maker)), reference="DN-2")

    for words in ("curlew", "dn-1"):
        text = text_of(at_home.get(url(by, "deliveries"), {"q": words}))
        assert mine.code in text
        assert other.code not in text
    assert other.code in at_home.get(url(by, "deliveries"), {"as": "csv"}).content.decode()


@pytest.mark.parametrize("count", [1, 30])
def test_a_delivery_asks_the_same_number_of_questions(
    at_home: Client, by: By, count: int, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    """One lot or thirty; the list of deliveries likewise."""
    for _ in range(count if count == 1 else 3):
        delivery = receive(by, *[line(make_ingredient(by.maker)) for _ in range(count)])

    with django_assert_max_num_queries(14):
        at_home.get(url(by, "delivery", code=delivery.code))
    with django_assert_max_num_queries(8):
        at_home.get(url(by, "deliveries"))


def test_what_was_typed_is_shown_with_the_makers_own_decimal_mark(at_home: Client, by: By) -> None:
    """1,500 kg is a kilogram and a half: written 1.500 it would be read as one and a half tonnes."""
    type(by.maker).objects.filter(pk=by.maker.pk).update(locale="de_DE")
    by.maker.refresh_from_db()
    supplier, oil = make_supplier(by.maker), make_ingredient(by.maker)
    data = {**head(by, supplier=supplier.pk), **row(0, f"i-{oil.uuid}", "1,500", "kg")}

    delivery = at_home.post(url(by, "receive"), data)["Location"]
    lot = Lot.objects.get()
    counted = {"thing": f"i-{oil.uuid}", "amount_amount": "0,250", "amount_unit": "kg", "date_kind": "expiry"}
    at_home.post(url(by, "count-in"), counted)

    assert (lot.on_hand, lot.entered_amount) == (1500, "1.500")
    for page in (delivery, url(by, "lot", code=lot.code)):
        shown = text_of(at_home.get(page)).replace("\u00a0", " ")
        assert "1,500 kg" in shown
        assert "1.500" not in shown
    said = " ".join(str(entry.change) for entry in JournalEntry.objects.filter(maker=by.maker))
    assert "1,500 kg" in said
    assert "0,250 kg" in said
    assert "1.500" not in said


def test_the_head_names_what_needs_a_hand_in_the_lines_too(at_home: Client, by: By) -> None:
    """Also where the head itself is well: a page of lines is long, and nothing else says it came back."""
    supplier, oil = make_supplier(by.maker), make_ingredient(by.maker)
    well = head(by, supplier=supplier.pk)
    one = {**well, **row(0, f"i-{oil.uuid}"), **row(1, f"i-{oil.uuid}", "a lot")}
    several = {
        **head(by, supplier=supplier.pk, freight="dear"),
        **row(0, f"i-{oil.uuid}", "", cost="dear", good_until="soon"),
        **row(1, f"i-{oil.uuid}"),
        **row(2, "", "5", cost="dear"),
    }
    taken = {**well, **row(0, f"i-{oil.uuid}", code="X1"), **row(1, f"i-{oil.uuid}", code="X1")}

    said = [text_of(at_home.post(url(by, "receive"), data)) for data in (one, several, taken)]

    assert "Nothing is written down yet: Amount in line 2 needs a hand." in said[0]
    assert "6 fields, 5 of them in lines 1 and 3, need a hand." in said[1]
    assert "Own lot code in line 2 needs a hand." in said[2]
    assert not Delivery.objects.exists()
