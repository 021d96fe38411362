"""The trace, complaints and recalls on screen."""

from __future__ import annotations

import pytest
from django.test import Client

from batches.models import Complaint, Recall
from makers.actions import By
from tests.batches.fixture import Example
from tests.cast import Cast
from tests.formulas.pages import page, text_of, url
from tests.formulas.sent import sent_back

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("code", ["L2", "l2", "S-WAX-12"])
def test_a_lot_or_the_suppliers_number_leads_to_295_units(at_home: Client, by: By, code: str) -> None:
    """Both batches, three shops, and how many each has."""
    shown = page(at_home, by, f"trace/?q={code}")

    assert "295" in shown
    for word in ("B1", "B2", "Shop C1", "Shop C2", "Shop C3"):
        assert word in shown


def test_a_pack_code_leads_back_to_every_lot(at_home: Client, by: By, example: Example) -> None:
    """L2 is behind B2 through rework of B1."""
    shown = page(at_home, by, f"trace/?q={example.packs['P2'].code}")

    assert all(code in shown for code in ("L1", "L2", "L3", example.lots["R1"].code))


def test_l3_does_not_touch_c1(at_home: Client, by: By) -> None:
    """Only those who got B2 are named."""
    shown = page(at_home, by, "trace/?q=L3")

    assert "Shop C2" in shown
    assert "Shop C1" not in shown


def test_a_code_that_nobody_has_says_what_to_do(at_home: Client, by: By) -> None:
    """And keeps what was typed, harmlessly."""
    shown = page(at_home, by, "trace/?q=%3Cb%3EX9")

    assert "Read the code on the label again." in shown
    assert "<b>X9" not in shown
    assert "&lt;b&gt;X9" in shown


def test_the_trace_is_also_a_csv(at_home: Client, by: By) -> None:
    """One line for each holder and pack: five."""
    rows = page(at_home, by, "trace/?q=L2&as=csv").strip().splitlines()

    assert len(rows) == 6


def test_a_code_that_no_pack_carries_is_said_at_once_and_stays_said(at_home: Client, by: By) -> None:
    """The complaint is taken, for what was read was read; the answer and the page say that nothing has it."""
    data = sent_back(at_home, url(by, "complaints/add/"))
    data |= {"words": ["itches"], "code_given": ["B9-ZZ"], "kind": ["reaction"]}

    there = at_home.post(url(by, "complaints/add/"), data)["Location"]

    first, again = text_of(at_home.get(there)), text_of(at_home.get(there))
    words = "No batch or pack here carries the code “B9-ZZ”"
    assert first.count(words) == 2  # in the message and beside the batch
    assert again.count(words) == 1
    assert "write it down as a step below" in again


def test_a_complaint_by_the_printed_code_finds_the_batch(at_home: Client, by: By, example: Example) -> None:
    """The page of it shows the lots behind."""
    data = sent_back(at_home, url(by, "complaints/add/"))
    code = example.packs["P2"].code
    data |= {"kind": ["quality"], "words": ["grainy"], "code_given": [code.lower()]}

    response = at_home.post(url(by, "complaints/add/"), data)

    assert response.status_code == 303
    assert Complaint.objects.get().batch == example.batches["B2"]
    shown = text_of(at_home.get(response["Location"]))
    assert all(lot in shown for lot in ("L1", "L2", "L3"))


def test_a_complaint_with_a_code_that_nobody_has_keeps_every_word(at_home: Client, by: By) -> None:
    """The maker reads it again, or says that it is not known."""
    data = sent_back(at_home, url(by, "complaints/add/"))
    data |= {
        "kind": ["reaction"],
        "words": ["itched for «two» days"],
        "code_given": ["B99"],
        "batch_known": ["known"],
        "name": ["Bo Plover"],
    }

    response = at_home.post(url(by, "complaints/add/"), data)
    shown = text_of(response)
    data["batch_known"] = ["unknown"]
    again = at_home.post(url(by, "complaints/add/"), data)

    assert response.status_code == 200
    assert "No batch or pack has the code “B99”" in shown
    assert "itched for «two» days" in shown
    assert 'value="Bo Plover"' in shown
    assert again.status_code == 303
    assert (Complaint.objects.get().code_given, Complaint.objects.get().batch) == ("B99", None)


def test_a_complaint_without_words_is_asked_for_them(at_home: Client, by: By) -> None:
    """The name typed beside it stays."""
    data = sent_back(at_home, url(by, "complaints/add/"))

    shown = text_of(at_home.post(url(by, "complaints/add/"), {**data, "words": [" "], "name": ["Bo"]}))

    assert 'value="Bo"' in shown
    assert not Complaint.objects.exists()


def test_a_rehearsal_keeps_what_the_trace_gave(at_home: Client, by: By) -> None:
    """From L2: 295 units, and its end says how many were found."""
    response = at_home.post(
        url(by, "recalls/start/"), {"start": "L2", "kind": "rehearsal", "reason": "yearly rehearsal"}
    )

    assert response.status_code == 303
    assert "295" in text_of(at_home.get(response["Location"]))
    refused = text_of(at_home.post(response["Location"], {"found_units": "all", "conclusion": "went well"}))
    assert "went well" in refused
    at_home.post(response["Location"], {"found_units": "290", "conclusion": "went well"})
    assert Recall.objects.get().ended_at is not None


@pytest.mark.parametrize("path", ["trace/", "trace/?q=L2", "complaints/", "complaints/add/", "recalls/"])
def test_who_may_look(client: Client, cast: Cast, by: By, path: str) -> None:
    """A stranger finds nothing; a reader looks and does not write."""
    client.force_login(cast.stranger.user)
    assert client.get(url(by, path)).status_code == 404

    client.force_login(cast.reader.user)
    assert client.get(url(by, path)).status_code == 200
    assert client.post(url(by, path), {}).status_code == 403
