"""Who answers in a market: named once more before another takes the place, so that no window overwrites another."""

from __future__ import annotations

import pytest
from django.test import Client

from makers.actions.house import set_responsible
from makers.http import address
from makers.models import ResponsibleParty
from tests.cast import Cast
from tests.formulas.sent import inputs_of

pytestmark = pytest.mark.django_db


def test_another_is_named_before_it_gives_way(cast: Cast, client: Client) -> None:
    """Sent again it holds; the same once more is no question; another window's newer one is named again."""
    client.force_login(cast.owner.user)
    where = address(cast.maker, "house:responsible")
    shown = inputs_of(client.get(where).content.decode())
    data = {**shown, "market": "EU", "name": "Cordgrass Ltd", "address": "2 Tidegate Row", "contact": ""}
    assert client.post(where, data).status_code == 303
    assert client.post(where, data).status_code == 303

    other = {**data, "name": "Eelgrass Ltd"}
    asked = client.post(where, other)
    page = asked.content.decode()
    assert asked.status_code == 200
    assert "Cordgrass Ltd answers for" in page
    assert "Eelgrass Ltd" in page

    set_responsible(cast.owner, market="EU", name="Glasswort Ltd", address="4 Tidegate Row")
    again = client.post(where, inputs_of(page))
    assert "changed to “Glasswort Ltd” in another window" in again.content.decode()
    assert client.post(where, inputs_of(again.content.decode())).status_code == 303
    assert ResponsibleParty.objects.get(maker=cast.maker).name == "Eelgrass Ltd"


def test_it_is_changed_from_what_stands_there(cast: Cast, client: Client) -> None:
    """The settings lead to a form that shows it; a field left alone stays."""
    set_responsible(cast.owner, market="GB", name="Cordgrass Ltd", address="2 Tidegate Row", contact="01 234")
    client.force_login(cast.owner.user)
    where = address(cast.maker, "house:responsible") + "?market=GB"
    assert where in client.get(address(cast.maker, "house:settings")).content.decode()

    shown = inputs_of(client.get(where).content.decode())
    assert client.post(where, {**shown, "address": ["4 Tidegate Row"]}).status_code == 303
    party = ResponsibleParty.objects.get(maker=cast.maker)
    assert (party.market, party.name, party.address, party.contact) == (
        "GB",
        "Cordgrass Ltd",
        "4 Tidegate Row",
        "01 234",
    )
