"""A form that lay open while somebody else changed its record: nothing of either is lost."""

from __future__ import annotations

import pytest
from django.test import Client

from makers.actions.house import change_maker
from makers.http import address
from makers.models import Membership
from tests.cast import Cast
from tests.formulas.sent import inputs_of, sent_back

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client: Client, cast: Cast) -> Client:
    """The owner's browser."""
    client.force_login(cast.owner.user)
    return client


def test_settings_saved_in_two_windows_keep_both_changes(owner: Client, cast: Cast) -> None:
    """The second is told of the first, beside its field; sent again, both stand."""
    there, maker = address(cast.maker, "house:settings"), cast.maker
    second = {**sent_back(owner, there), "reactions_phone": "+353 1 700"}
    owner.post(there, {**sent_back(owner, there), "website": "https://balms.example/"})

    told = owner.post(there, second).content.decode()

    assert "changed in another window since you opened it" in told
    assert f"{cast.owner.user} changed it to “https://balms.example/” at" in told
    assert "this form said nothing. The newer one stands here now." in told
    maker.refresh_from_db()
    assert (maker.website, maker.reactions_phone) == ("https://balms.example/", "")
    again = inputs_of(told)
    assert (again["website"], again["reactions_phone"]) == (["https://balms.example/"], ["+353 1 700"])
    assert owner.post(there, again).status_code == 303
    maker.refresh_from_db()
    assert (maker.website, maker.reactions_phone) == ("https://balms.example/", "+353 1 700")


def test_one_field_changed_in_two_windows_is_asked_back(owner: Client, cast: Cast) -> None:
    """What was typed stays in its box beside what stands on record; sent again it holds."""
    there, maker = address(cast.maker, "house:settings"), cast.maker
    second = {
        **sent_back(owner, there),
        "markets": ["US"],
        "works_alone": "on",
        "website": "https://b.example/",
    }
    change_maker(cast.owner, website="https://a.example/", markets=["GB", "EU"], works_alone=True)

    told = owner.post(there, second).content.decode()

    assert "changed it to “https://a.example/” at" in told
    assert "you wrote “https://b.example/”. Which holds? Send it again to keep yours." in told
    assert told.count("Which holds?") == 2
    again = inputs_of(told)
    assert again["website"] == ["https://b.example/"]
    assert owner.post(there, again).status_code == 303
    maker.refresh_from_db()
    assert (maker.website, maker.markets, maker.works_alone) == ("https://b.example/", ["US"], True)


def test_what_both_windows_say_alike_is_no_matter(owner: Client, cast: Cast) -> None:
    """The same change twice is one."""
    there = address(cast.maker, "house:settings")
    second = {**sent_back(owner, there), "website": "https://a.example/"}
    change_maker(cast.owner, website="https://a.example/")

    assert owner.post(there, second).status_code == 303


@pytest.mark.parametrize("seen", ["", "9", "{", '{"website": 3}', "[" * 5000])
def test_marks_that_nobody_can_read_break_nothing(owner: Client, cast: Cast, seen: str) -> None:
    """A page that was tampered with is taken as it is, or asked back: never a fault."""
    there = address(cast.maker, "house:settings")

    assert owner.post(there, {**sent_back(owner, there), "seen": seen}).status_code in (200, 303)


def test_a_role_changed_meanwhile_is_not_given_back_unseen(owner: Client, cast: Cast) -> None:
    """An end of a membership is not undone by a form that was opened before it."""
    row = Membership.objects.get(maker=cast.maker, user=cast.worker.user)
    there = address(cast.maker, "house:member-change", uuid=row.uuid)
    second = {**sent_back(owner, there), "role": "reader"}
    ended = {name: value for name, value in sent_back(owner, there).items() if name != "active"}
    owner.post(there, ended)

    told = owner.post(there, second).content.decode()

    row.refresh_from_db()
    assert (row.active, row.role) == (False, "worker")
    assert "changed to no in another window; this form said yes" in told
    assert "active" not in inputs_of(told)
