"""The page of a lot, and what is written on it."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from batches.actions.stock import open_hold, retest_lot, waste_lot
from batches.models import Hold, Lot, LotDecision, LotEntry, Retest
from makers.actions import By
from makers.http import address
from makers.models import Document
from tests.batches.pages import text_of, url
from tests.batches.stock.factories_stock import (
    in_days,
    make_article,
    make_ingredient,
    make_lot,
    make_opening,
    make_supplier,
    make_upload,
)
from tests.cast import Cast
from tests.formulas.sent import inputs_of

# -- the page


def test_the_page_shows_the_running_balance(at_home: Client, by: By) -> None:
    """What came, what went, what is left after each, and that it closes."""
    lot = make_lot(by, amount="3320")
    waste_lot(by, lot=lot, amount=Decimal(40), why="smell and colour", kind="sampled")
    waste_lot(by, lot=lot, amount=Decimal("120.5"), why="spilled")

    text = text_of(at_home.get(url(by, "lot", code=lot.code)))

    assert "3 159.5 g on hand, none of it free to weigh" in text
    for figure in ("3 320.0", "3 280.0", "3 159.5"):
        assert figure in text
    assert "100.0 % , nothing missing." in text


def test_the_page_gives_every_reason_why_a_lot_is_not_usable(at_home: Client, by: By) -> None:
    """Quarantine, hold and date together."""
    lot = make_lot(by, good_until=in_days(by, -3))
    open_hold(by, lot=lot, cause="smells of hay")

    text = text_of(at_home.get(url(by, "lot", code=lot.code)))

    assert "It is in quarantine" in text
    assert "It is on hold: smells of hay" in text
    assert "It expired 3 days ago." in text


def test_a_lot_of_the_first_count_says_that_its_provenance_is_unknown(at_home: Client, by: By) -> None:
    """Nobody invents a supplier."""
    lot = make_opening(by)

    assert "where it came from is unknown" in text_of(at_home.get(url(by, "lot", code=lot.code)))


def test_jars_are_shown_in_pieces(at_home: Client, by: By) -> None:
    """No decimals, no grams."""
    lot = make_lot(by, make_article(by.maker), "120")

    page = at_home.get(url(by, "lot", code=lot.code)).content.decode()

    assert "120<small>&nbsp;pieces</small>" in page
    assert "120.0" not in page


@pytest.mark.parametrize("count", [1, 30])
def test_the_page_asks_the_same_number_of_questions(
    at_home: Client, by: By, count: int, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    """One movement or thirty, one hold or thirty."""
    lot = make_lot(by)
    for number in range(count):
        waste_lot(by, lot=lot, amount=Decimal(1), why="x")
        open_hold(by, lot=lot, cause=f"x {number}")

    with django_assert_max_num_queries(26):
        at_home.get(url(by, "lot", code=lot.code))


def test_the_ledger_as_csv(at_home: Client, by: By) -> None:
    """Every line with its balance."""
    lot = make_lot(by)
    waste_lot(by, lot=lot, amount=Decimal(10), why="spilled")

    lines = at_home.get(url(by, "lot-ledger", code=lot.code)).content.decode().splitlines()

    assert len(lines) == 3
    assert ",-10.0000,g,990.0000," in lines[2]


# -- acts


def act(client: Client, by: By, name: str, lot: Lot, data: dict[str, Any]) -> Any:
    """Send one of the forms of the page."""
    return client.post(url(by, name, code=lot.code), data)


def test_a_movement_is_written_from_the_page(at_home: Client, by: By) -> None:
    """A redirect to the lot, which says when it was written."""
    lot = make_lot(by)

    response = act(
        at_home, by, "lot-movement", lot,
        {"kind": "wasted", "amount_amount": "1.5", "amount_unit": "oz", "why": "dropped"},
    )  # fmt: skip

    assert response.status_code == 303
    assert response["Location"] == url(by, "lot", code=lot.code)
    lot.refresh_from_db()
    assert lot.on_hand == Decimal("957.4758")


def test_a_count_is_written_from_the_page(at_home: Client, by: By) -> None:
    """Counted and expected come from one form."""
    lot = make_lot(by)

    act(
        at_home, by, "lot-movement", lot,
        {
            "kind": "counted", "amount_amount": "995", "amount_unit": "g", "why": "scoop",
            "expected": "1000.0000",
        },
    )  # fmt: skip

    assert LotEntry.objects.get(lot=lot, kind="counted").amount == -5


def test_a_movement_sent_twice_is_one(at_home: Client, by: By) -> None:
    """The form carries a key."""
    lot = make_lot(by)
    key = re.search(
        r'name="entry_key" value="([0-9a-f-]{36})"',
        at_home.get(url(by, "lot", code=lot.code)).content.decode(),
    )
    assert key
    data = {
        "kind": "wasted",
        "amount_amount": "100",
        "amount_unit": "g",
        "why": "x",
        "entry_key": key.group(1),
    }

    responses = [act(at_home, by, "lot-movement", lot, data) for _ in range(2)]

    assert [response.status_code for response in responses] == [303, 303]
    assert LotEntry.objects.filter(lot=lot, kind="wasted").count() == 1


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"amount_amount": "1240", "why": "fell"}, "At most 1\u202f000.0\xa0g can go"),
        ({"amount_amount": "1,5", "why": "fell"}, "1,5"),
        ({"amount_amount": "", "why": "fell"}, "Write how much."),
        ({"amount_amount": "-3", "why": "fell"}, "3"),
        ({"amount_amount": "10", "why": ""}, "it stays in the ledger for good"),
        ({"amount_amount": "10", "why": "fell", "amount_unit": "pieces"}, "on the list"),
    ],
)
def test_what_was_typed_stays_with_a_sentence_beside_it(
    at_home: Client, by: By, typed: dict[str, str], sentence: str
) -> None:
    """Too much, a comma where points are read, nothing, less than nothing, no reason, another unit."""
    lot = make_lot(by)

    response = act(at_home, by, "lot-movement", lot, {"kind": "wasted", "amount_unit": "g", **typed})

    page = response.content.decode()
    assert response.status_code == 200
    assert sentence.replace("\u202f", "").replace("\xa0", "") in re.sub("[\u202f\xa0]|<[^>]+>", "", page)
    if typed["why"]:
        assert f'value="{typed["why"]}"' in page
    if typed["amount_amount"]:
        assert f'value="{typed["amount_amount"]}"' in page
    assert LotEntry.objects.count() == 1


def test_a_lot_is_released_with_a_new_certificate(at_home: Client, by: By) -> None:
    """The file is kept with the lot and the decision rests on it."""
    lot = make_lot(by, supplier_lot="AB-114")

    response = act(
        at_home, by, "lot-decide", lot,
        {
            "became": "released", "basis": "all values within", "certificate_lot": "ab-114",
            "upload": make_upload("coa.pdf"),
        },
    )  # fmt: skip

    assert response.status_code == 303
    decision = LotDecision.objects.get()
    assert decision.document == Document.objects.get(about=lot.uuid)
    lot.refresh_from_db()
    assert lot.status == "released"


def test_a_release_sent_twice_is_one(at_home: Client, by: By) -> None:
    """The second tap finds the lot released already, and is led there as the first was."""
    lot = make_lot(by, supplier_lot="AB-114")
    key = str(uuid4())
    sent = [
        act(
            at_home, by, "lot-decide", lot,
            {
                "became": "released", "basis": "all values within", "certificate_lot": "AB-114",
                "upload": make_upload("coa.pdf"), "entry_key": key,
            },
        )
        for _ in range(2)
    ]  # fmt: skip

    assert [response.status_code for response in sent] == [303, 303]
    assert (LotDecision.objects.count(), Document.objects.count()) == (1, 1)


def test_a_hold_sent_twice_is_one_and_ends_once(at_home: Client, by: By) -> None:
    """The same cause is the same hold; another cause is another; another reason to end it is told."""
    lot = make_lot(by)
    held = [act(at_home, by, "lot-hold", lot, {"cause": "smells of hay"}) for _ in range(2)]
    hold = Hold.objects.get()
    act(at_home, by, "lot-hold", lot, {"cause": "label torn off"})
    where = url(by, "hold", uuid=hold.uuid)
    ended = [at_home.post(where, {"why": "it is the sack"}) for _ in range(2)]
    other = at_home.post(where, {"why": "smelled again"})

    assert {303} == {response.status_code for response in held + ended}
    assert Hold.objects.count() == 2
    assert other.status_code == 200
    assert "That hold was ended on" in text_of(other)


def test_a_certificate_of_another_lot_comes_back_with_a_tick(at_home: Client, by: By) -> None:
    """The warning stands beside the number; ticked, it is written."""
    lot = make_lot(by, supplier_lot="AB-114")
    data: dict[str, Any] = {"became": "released", "basis": "by phone", "certificate_lot": "AB-115"}

    page = act(at_home, by, "lot-decide", lot, data).content.decode()

    assert "this lot is" in page
    assert 'type="checkbox" name="although_other_lot"' in page
    assert not LotDecision.objects.exists()
    assert act(at_home, by, "lot-decide", lot, {**data, "although_other_lot": "on"}).status_code == 303


def test_a_refused_decision_keeps_no_file(at_home: Client, by: By) -> None:
    """The certificate of a decision that did not come about is not left behind."""
    lot = make_lot(by, supplier_lot="AB-114")

    act(
        at_home, by, "lot-decide", lot,
        {"became": "released", "basis": "x", "certificate_lot": "AB-115", "upload": make_upload()},
    )  # fmt: skip

    assert not Document.objects.exists()


def test_a_word_file_is_told_from_a_certificate(at_home: Client, by: By) -> None:
    """By its content, whatever it is called."""
    lot = make_lot(by)
    word = make_upload("certificate.pdf", b"PK\x03\x04" + b"word/document.xml" * 20)

    response = act(at_home, by, "lot-paper", lot, {"kind": "certificate", "upload": word})

    assert response.status_code == 200
    assert not Document.objects.exists()
    assert 'id="paper-upload_error"' in response.content.decode()


def test_a_paper_a_test_a_hold_and_the_opening_are_written(at_home: Client, by: By) -> None:
    """Each leads back to the lot."""
    lot = make_lot(by)
    sent = [
        act(at_home, by, "lot-paper", lot, {"kind": "safety", "upload": make_upload("sds.pdf")}),
        act(at_home, by, "lot-retest", lot, {"became": f"{in_days(by, 90)}", "basis": "smells fresh"}),
        act(at_home, by, "lot-hold", lot, {"cause": "label torn off"}),
        act(at_home, by, "lot-opened", lot, {}),
    ]

    assert {303} == {response.status_code for response in sent}
    lot.refresh_from_db()
    assert (True, by.today(), in_days(by, 90)) == (lot.held, lot.opened_on, lot.good_until)
    assert Document.objects.get().kind == "safety"


def test_a_hold_ends_on_its_own_page(at_home: Client, by: By) -> None:
    """The page says the cause; the end leads back to the lot."""
    lot = make_lot(by)
    hold = open_hold(by, lot=lot, cause="smells of hay")
    where = url(by, "hold", uuid=hold.uuid)

    assert "smells of hay" in text_of(at_home.get(where))
    assert at_home.post(where, {"why": ""}).status_code == 200
    response = at_home.post(where, {"why": "it is the sack"})

    assert response["Location"] == url(by, "lot", code=lot.code)
    assert not Hold.objects.filter(closed_at=None).exists()


def test_a_line_is_corrected_on_its_own_page(at_home: Client, by: By) -> None:
    """Taken back, with the right amount in its place."""
    lot = make_lot(by)
    wrong = waste_lot(by, lot=lot, amount=Decimal(910), why="x")
    where = url(by, "lot-correct", code=lot.code, uuid=wrong.uuid)

    assert "The line stays to be seen" in text_of(at_home.get(where))
    response = at_home.post(where, {"amount_amount": "91", "amount_unit": "g", "why": "typed 910"})

    assert response.status_code == 303
    lot.refresh_from_db()
    assert lot.on_hand == 909
    again = at_home.post(where, {"why": "once more"})
    assert "taken back already" in text_of(again)


def test_an_act_opened_by_a_link_leads_to_the_lot(at_home: Client, by: By) -> None:
    """A reload after a refused form is no dead end."""
    lot = make_lot(by)

    for name in ("lot-movement", "lot-decide", "lot-retest", "lot-hold", "lot-paper", "lot-opened"):
        assert at_home.get(url(by, name, code=lot.code))["Location"] == url(by, "lot", code=lot.code)


# -- who


def pages(by: By) -> list[str]:
    """Every address of stock, for one lot with a hold and a wrong line."""
    lot = make_lot(by)
    wrong = waste_lot(by, lot=lot, amount=Decimal(1), why="x")
    hold = open_hold(by, lot=lot, cause="x")
    assert lot.delivery
    return [
        *(url(by, name) for name in ("lots", "receive", "count-in", "deliveries")),
        url(by, "delivery", code=lot.delivery.code),
        *(
            url(by, name, code=lot.code)
            for name in (
                "lot", "lot-ledger", "lot-movement", "lot-decide", "lot-retest", "lot-hold", "lot-paper",
                "lot-opened",
            )
        ),
        url(by, "lot-correct", code=lot.code, uuid=wrong.uuid),
        url(by, "hold", uuid=hold.uuid),
    ]  # fmt: skip


def test_a_stranger_finds_nothing(client: Client, cast: Cast) -> None:
    """Neither under the maker's address nor, by code or identity, under his own."""
    addresses = pages(cast.owner)
    client.force_login(cast.stranger.user)

    for where in addresses:
        assert client.get(where).status_code == 404
        assert client.post(where, {}).status_code == 404
    for where in addresses[4:]:
        mine = where.replace(f"/{cast.maker.slug}/", f"/{cast.stranger.maker.slug}/", 1)
        assert client.get(mine).status_code == 404
        assert client.post(mine, {"why": "x"}).status_code in {404, 405}


def test_a_reader_looks_and_writes_nothing(client: Client, cast: Cast) -> None:
    """Every page opens without its forms; every POST is refused."""
    addresses = pages(cast.owner)
    client.force_login(cast.reader.user)
    before = LotEntry.objects.count(), LotDecision.objects.count(), Retest.objects.count()

    for where in addresses:
        assert client.get(where, follow=True).status_code == 200
        assert client.post(where, {"why": "x"}).status_code == 403
    page = client.get(next(where for where in addresses if "/lots/" in where and where.count("/") == 4))
    assert b'method="post" action="/' + cast.maker.slug.encode() + b"/lots" not in page.content
    assert before == (LotEntry.objects.count(), LotDecision.objects.count(), Retest.objects.count())


def test_lists_and_csv_are_read_only(at_home: Client, by: By) -> None:
    """They take no POST."""
    lot = make_lot(by)

    for where in (
        url(by, "lots"),
        url(by, "deliveries"),
        url(by, "lot", code=lot.code),
        url(by, "lot-ledger", code=lot.code),
    ):
        assert at_home.post(where, {}).status_code == 405


def test_a_code_that_is_none_is_not_there(at_home: Client, by: By) -> None:
    """Any text at all."""
    for code in ("26-L999", "x' OR 1=1", "\u0416\u0416"):
        assert at_home.get(f"/{by.maker.slug}/lots/{code}/").status_code == 404


def test_names_in_any_script_and_markup_are_shown_as_text(at_home: Client, by: By) -> None:
    """What a supplier or a maker writes never becomes markup."""
    supplier = make_supplier(by.maker, "<b>Öl & Söhne</b> 株式会社")
    lot = make_lot(
        by, make_ingredient(by.maker, "Масло <script>"), supplier=supplier, supplier_lot="<i>1</i>"
    )

    page = at_home.get(url(by, "lot", code=lot.code)).content.decode()

    assert "Масло &lt;script&gt;" in page
    assert "&lt;i&gt;1&lt;/i&gt;" in page
    assert "株式会社" in page


def test_the_retest_shows_on_the_page(at_home: Client, by: By) -> None:
    """From which day to which, and why."""
    lot = make_lot(by, good_until=in_days(by, 5))
    retest_lot(by, lot=lot, became=in_days(by, 200), basis="peroxide value 3.1")

    text = text_of(at_home.get(url(by, "lot", code=lot.code)))

    assert "peroxide value 3.1" in text


def test_a_decision_made_since_the_page_was_opened_is_told_before_another_is_written(
    at_home: Client, by: By
) -> None:
    """Two windows: the first rejects, the second would release. It is told who, when and why; then it may."""
    lot = make_lot(by)
    there = address(by.maker, "batches:lot", code=lot.code)
    decide = address(by.maker, "batches:lot-decide", code=lot.code)
    late = {**decision_on(at_home, there), "became": "released", "basis": "Looked at, as it should be."}
    at_home.post(
        decide, {**decision_on(at_home, there), "became": "rejected", "basis": "Smells of rancid nuts."}
    )

    response = at_home.post(decide, late)
    told = response.content.decode()

    lot.refresh_from_db()
    assert lot.status == "rejected"
    assert f"{by.user} decided at" in text_of(response)
    assert f"{lot.code} is rejected, after you opened this page: “Smells of rancid nuts.”" in text_of(
        response
    )
    again = {**inputs_of(told[told.index('id="h-decide"') : told.index('id="h-date"')]), "became": "released"}
    assert again["basis"] == ["Looked at, as it should be."]
    assert at_home.post(decide, again).status_code == 303
    lot.refresh_from_db()
    assert lot.status == "released"


def test_the_same_decision_from_two_windows_says_that_it_was_made(at_home: Client, by: By) -> None:
    """Nothing is chosen anew for a lot that is released already: the sentence says so."""
    lot = make_lot(by)
    there = address(by.maker, "batches:lot", code=lot.code)
    decide = address(by.maker, "batches:lot-decide", code=lot.code)
    first, late = ({**decision_on(at_home, there), "became": "released", "basis": "Good."} for _ in range(2))
    at_home.post(decide, first)

    told = text_of(at_home.post(decide, late))

    assert f"{lot.code} is released, after you opened this page" in told
    assert lot.decisions.count() == 1


def decision_on(client: Client, there: str) -> dict[str, Any]:
    """What the decision's form on a lot's page sends as it came."""
    page = client.get(there).content.decode()
    return inputs_of(page[page.index('id="h-decide"') : page.index('id="h-date"')])
