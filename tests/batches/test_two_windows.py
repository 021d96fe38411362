"""A recipient and a complaint that are open in two windows at once."""

from __future__ import annotations

from django.test import Client

from batches.actions.selling import add_recipient
from batches.actions.tracing import write_complaint
from makers.actions import By
from makers.http import address
from tests.formulas.sent import inputs_of, sent_back


def test_a_telephone_written_elsewhere_stays(at_home: Client, by: By) -> None:
    """The second window is told of it, and holds when it is sent again."""
    row = add_recipient(by, kind="shop", name="Slipway Shelf", email="shelf@slipway.example")
    there = address(by.maker, "batches:recipient-contact", code=row.code)
    late = {**sent_back(at_home, there), "email": "new@slipway.example"}
    at_home.post(there, {**sent_back(at_home, there), "phone": "+353 1 77"})

    told = at_home.post(there, late).content.decode()

    assert "in another window; this form said nothing" in told
    assert at_home.post(there, inputs_of(told)).status_code == 303
    kept = sent_back(at_home, there)
    assert (kept["phone"], kept["email"]) == (["+353 1 77"], ["new@slipway.example"])


def test_a_fact_of_a_reaction_learned_elsewhere_stays(at_home: Client, by: By) -> None:
    """A step written from a page that was opened before doesn't set it back to "not asked"."""
    row = write_complaint(by, kind="reaction", words="My wrist itched.")
    there = address(by.maker, "batches:complaint", code=row.code)
    late = {**sent_back(at_home, there), "kind": "found", "text": "Asked her by telephone."}
    name = next(one for one in late if one.startswith("fact-") and one != "fact-seen")
    first = {**sent_back(at_home, there), "kind": "facts", "text": "She said so.", name: "yes"}
    assert at_home.post(there, first).status_code == 303

    told = at_home.post(there, late).content.decode()

    assert "changed to Yes in another window; this form said Not asked" in told
    assert "Asked her by telephone." in told
    assert at_home.post(there, inputs_of(told)).status_code == 303
    row.refresh_from_db()
    assert row.facts[name.removeprefix("fact-")] == "yes"
