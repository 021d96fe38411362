"""A form that arrives after the sign-in had run out: nothing is written, and what was typed is not lost."""

from __future__ import annotations

import secrets
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from batches.models import Batch
from makers.actions import By
from makers.forms import cutoff
from makers.models import JournalEntry
from tests.batches.making.factories_making import make_making
from tests.cast import PASSWORD, Cast
from tests.formulas.sent import inputs_of

pytestmark = pytest.mark.django_db
REMARK = "Thickened at once, <b>stirred</b>\nfor a minute."


@pytest.fixture
def batch(cast: Cast) -> Batch:
    """A batch being made."""
    return make_making(cast.owner)


def record_of(by: By, batch: Batch) -> str:
    """The page of a batch."""
    return f"/{by.maker.slug}/batches/{batch.code}/"


def cut_off(client: Client, there: str, referer: str = "", **data: Any) -> Any:
    """Send a form while nobody is signed in."""
    headers = {"Referer": f"http://testserver{referer}"} if referer else {}
    return client.post(there, data, headers=headers)


def come_in(client: Client, door: str, by: By) -> Any:
    """Sign in where a redirect led; the page behind it."""
    shown = client.get(door)
    (following,) = inputs_of(shown.content.decode())["next"]
    data = {"username": by.user.email, "password": PASSWORD, "next": following}
    return client.post("/sign-in/", data, follow=True)


def test_what_was_typed_is_shown_again_and_sent_with_one_press(
    client: Client, cast: Cast, batch: Batch
) -> None:
    """The sign-in says that nothing was written down; the page behind it sends the words as they were."""
    record = record_of(cast.owner, batch)
    before = JournalEntry.objects.count()

    sent = cut_off(client, f"{record}do/note/", record, **{"note-text": REMARK})
    door = client.get(sent["Location"]).content.decode()
    page = come_in(client, sent["Location"], cast.owner)
    shown = page.content.decode()

    assert sent.status_code == 302
    assert "Your sign-in had run out, so nothing was written down." in door
    assert REMARK not in sent["Location"]
    assert page.redirect_chain[-1][0] == f"/{cast.maker.slug}/typed/"
    assert "Thickened at once, &lt;b&gt;stirred&lt;/b&gt;<br>for a minute." in shown
    assert f'<a href="{record}">Leave it</a>' in shown
    assert "no-store" in page["Cache-Control"]
    assert JournalEntry.objects.count() == before
    again = client.post(
        f"{record}do/note/", inputs_of(shown[shown.index(f'action="{record}do/note/"') - 40 :])
    )
    assert again.status_code == 303
    assert "stirred" in str(JournalEntry.objects.order_by("pk").last().change)  # type: ignore[union-attr]
    assert "Nothing is kept here" in client.get(f"/{cast.maker.slug}/typed/").content.decode()


def test_passwords_and_files_are_not_kept(client: Client, cast: Cast, batch: Batch) -> None:
    """Neither is found on the machine, nor on the page."""
    record = record_of(cast.owner, batch)
    file = SimpleUploadedFile("a.pdf", b"%PDF-1.4 secret-paper", content_type="application/pdf")

    sent = cut_off(
        client,
        f"{record}do/release/",
        record,
        **{"release-password": "tide-and-tern", "release-basis": "Fine", "f": file},
    )

    kept = "".join(path.read_text() for path in cutoff.folder().iterdir())
    assert "tide-and-tern" not in kept
    assert "secret-paper" not in kept
    shown = come_in(client, sent["Location"], cast.owner).content.decode()
    assert "Fine" in shown
    assert "Files are not kept: choose them again" in shown


def test_nobody_else_sees_it(client: Client, cast: Cast, batch: Batch) -> None:
    """Not another browser, not another workshop, and not the next who signs in on this machine once one saw it."""
    record = record_of(cast.owner, batch)
    cut_off(client, f"{record}do/note/", record, **{"note-text": "Private words"})
    here = f"/{cast.maker.slug}/typed/"
    other = Client()
    other.force_login(cast.owner.user)
    token = client.cookies[cutoff.COOKIE].value

    client.force_login(cast.stranger.user)
    assert client.get(here).status_code == 404
    assert "Private words" not in client.get(f"/{cast.stranger.maker.slug}/typed/").content.decode()
    assert "Private words" not in other.get(here).content.decode()
    client.force_login(cast.owner.user)
    client.cookies[cutoff.COOKIE] = token
    assert "Private words" in client.get(here).content.decode()
    client.force_login(cast.worker.user)
    client.cookies[cutoff.COOKIE] = token
    assert "Private words" not in client.get(here).content.decode()


@pytest.mark.parametrize("token", ["", "x", "../" * 12, "a" * 43, "\x00" * 40, "é" * 40])
def test_a_token_of_nothing_opens_nothing(client: Client, cast: Cast, token: str) -> None:
    """Nothing outside the folder is looked for."""
    client.force_login(cast.owner.user)
    client.cookies[cutoff.COOKIE] = token

    assert "Nothing is kept here" in client.get(f"/{cast.maker.slug}/typed/").content.decode()


def test_it_waits_an_hour_and_goes_with_signing_out(client: Client, cast: Cast, batch: Batch) -> None:
    """Then it is gone from the machine too."""
    record = record_of(cast.owner, batch)
    with time_machine.travel("2026-06-01T09:00Z", tick=False) as clock:
        cut = cutoff.CutOff("t" * 43, cast.maker.slug, record, record, (("a", "b"),))
        cutoff.write(cut)
        clock.shift(3700)
        cutoff.make_room()
    sent = cut_off(client, f"{record}do/note/", record, **{"note-text": "Later"})
    come_in(client, sent["Location"], cast.owner)
    waits = cutoff.folder() / client.cookies[cutoff.COOKIE].value
    assert waits.exists()
    client.post("/sign-out/")
    assert not waits.exists()


def test_no_more_wait_than_may(client: Client, cast: Cast, batch: Batch) -> None:
    """Whoever sends forms without end fills no disk: the oldest go."""
    record = record_of(cast.owner, batch)
    for _ in range(cutoff.MOST_KEPT + 3):
        cutoff.make_room()
        cutoff.write(cutoff.CutOff(secrets.token_urlsafe(32), "m", record, record, ()))

    assert len(list(cutoff.folder().iterdir())) <= cutoff.MOST_KEPT


def test_what_is_too_much_to_keep_is_said(client: Client, cast: Cast, batch: Batch) -> None:
    """The way back leads to the page all the same."""
    record = record_of(cast.owner, batch)

    sent = cut_off(client, f"{record}do/note/", record, **{"note-text": "x" * (cutoff.MOST_BYTES + 1)})

    assert "more than can be kept here" in client.get(sent["Location"]).content.decode()
    shown = come_in(client, sent["Location"], cast.owner).content.decode()
    assert "more than can be kept here: write it again" in shown
    assert f'href="{record}"' in shown


@pytest.mark.parametrize("referer", ["", "https://elsewhere.example/", "/sign-in/", "/other-maker/batches/"])
def test_a_page_that_is_none_of_this_workshop_is_not_gone_back_to(
    client: Client, cast: Cast, batch: Batch, referer: str
) -> None:
    """Then the way leads by the form's own address to the record above it."""
    record = record_of(cast.owner, batch)
    headers = {"Referer": referer if "//" in referer else f"http://testserver{referer}"} if referer else {}
    sent = client.post(f"{record}do/note/", {"note-text": "a"}, headers=headers)

    shown = come_in(client, sent["Location"], cast.owner).content.decode()

    assert f'<a href="{record}do/note/">Leave it</a>' in shown
    assert client.get(f"{record}do/note/")["Location"] == record


def test_a_script_is_told_and_its_page_stays(client: Client, cast: Cast, batch: Batch) -> None:
    """The queue of the bench keeps its entry; a live part of a page is not replaced by a sign-in."""
    record = record_of(cast.owner, batch)
    json = client.post(f"{record}bench/", {"grams": "5"}, headers={"Accept": "application/json"})
    part = client.post(f"{record}do/note/", {"note-text": "a"}, headers={"HX-Request": "true"})
    asked = client.get(
        f"/{cast.maker.slug}/batches/",
        headers={"HX-Request": "true", "HX-Current-URL": f"http://testserver/{cast.maker.slug}/batches/?q=a"},
    )

    assert (json.status_code, json.json()["written"]) == (401, False)
    assert part.status_code == 403
    assert asked["HX-Redirect"].endswith("next=%2F" + cast.maker.slug + "%2Fbatches%2F%3Fq%3Da")
    assert cutoff.COOKIE not in client.cookies


def test_an_address_that_only_takes_forms_leads_to_the_page_above_it(
    client: Client, cast: Cast, batch: Batch
) -> None:
    """Opened or loaded again it says that nothing was written down; another way of asking gets a page of ours."""
    client.force_login(cast.owner.user)
    maker, record = f"/{cast.maker.slug}/", record_of(cast.owner, batch)
    formula = f"{maker}formulas/{batch.formula.code}/"
    above = {
        f"{record}do/note/": record,
        f"{record}bench/pot/": f"{record}bench/",
        f"{formula}next/": formula,
        f"{formula}1/withdraw/": f"{formula}1/",
        f"{maker}labels/apply/P-001/3f0c2b1e-0000-4000-8000-000000000001/": f"{maker}labels/",
        f"{maker}export/records.zip": f"{maker}export/",
    }

    assert {path: client.get(path)["Location"] for path in above} == above
    assert "that address only takes what a form sends" in client.get(record).content.decode()
    put = client.put(record)
    assert put.status_code == 405
    assert "Nothing was written down" in put.content.decode()
    assert put["Allow"]
