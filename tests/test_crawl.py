"""Every address below a maker, asked for by everybody: nothing leaks, readers write nothing, nothing breaks."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

import pytest
from django.test import Client
from pytest_django import DjangoDbBlocker

from makers.actions import By
from makers.models import JournalEntry, Maker
from tests.kept import kept
from tests.world import World, addresses, make_world

pytestmark = pytest.mark.django_db

GARBAGE = {
    "q": "\x00<script>'\"%\u202e\U0001f9f4",
    "sort": "--nothing",
    "after": "99999999999999999999999~999999999999999999",
    "mass": "abc",
    "scale": "99999999999999999999999",
    "page": "-1",
    "way": "sideways",
    "start": "\x00",
    "code": "\x00\ud7ff",
    "to": "\x00",
    "pack": "\x00",
    "state": "none",
    "form": "\x00",
    "status": "\x00",
    "line": "x",
    "kind": "\x00",
    "all": "1",
    "format": "csv",
}
FAR = 2**63
NEEDS = {"batches:recall-start": "?start=L2"}
"""What an address can not do without."""


@pytest.fixture(scope="module")
def world(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    """The world, made once."""
    with kept(django_db_blocker):
        yield make_world()


def client_of(by: By | None) -> Client:
    """A browser, signed in or not. What breaks in a view comes back as 500."""
    client = Client(raise_request_exception=False)
    if by is not None:
        client.force_login(by.user)
    return client


def status(client: Client, method: str, url: str, **more: Any) -> int:
    """The status of an answer that is read to its end."""
    response: Any = (
        client.generic(method, url, **more)
        if method not in ("get", "post")
        else getattr(client, method)(url, **more)
    )
    if response.streaming:
        list(response.streaming_content)
    return int(response.status_code)


def entries(maker: Maker) -> int:
    """How much the maker's journal says."""
    return JournalEntry.objects.filter(maker=maker).count()


def statuses(world: World, by: By | None, method: str, query: str = "", **more: Any) -> dict[str, int]:
    """The status of every address."""
    client = client_of(by)
    return {
        name: status(client, method, url + (query or NEEDS.get(name, "")), **more)
        for name, url in addresses(world).items()
    }


def odd(found: dict[str, int], *allowed: int) -> dict[str, int]:
    """The answers that are not among the allowed ones."""
    return {name: code for name, code in found.items() if code not in allowed}


def test_there_is_something_to_crawl(world: World) -> None:
    """Each world has its addresses."""
    found = addresses(world)

    assert {name.split(":")[0] for name in found} == {"house", "formulas", "batches", "labels"}
    assert len(found) > 90


@pytest.mark.parametrize("method", ["get", "post"])
def test_to_a_stranger_nothing_is_there(world: World, method: str) -> None:
    """A member of another maker gets 404 everywhere, and writes nothing."""
    before = entries(world.maker)

    assert odd(statuses(world, world.cast.stranger, method), 404) == {}
    assert entries(world.maker) == before


@pytest.mark.parametrize("method", ["get", "post"])
def test_signed_out_every_page_leads_to_the_door(world: World, method: str) -> None:
    """A redirect to signing in, whatever is asked."""
    before = entries(world.maker)

    assert odd(statuses(world, None, method), 302) == {}
    assert entries(world.maker) == before


def test_a_strangers_own_maker_shows_nothing_of_this_one(world: World) -> None:
    """The same codes below the stranger's maker lead nowhere."""
    client = client_of(world.cast.stranger)
    own = world.cast.stranger.maker.slug
    leaks = {}
    for name, url in addresses(world).items():
        if url.count("/") > 3 and not name.endswith("catalogue-material"):
            below = url.replace(f"/{world.maker.slug}/", f"/{own}/", 1)
            leaks[name] = status(client, "get", below)

    forms = {name for name, code in leaks.items() if code == 200}
    assert all("add" in name or name in FIXED for name in forms), forms
    assert odd(leaks, 200, 302, 404, 405) == {}


FIXED = {
    "formulas:start",
    "formulas:read",
    "formulas:compare",
    "formulas:catalogue",
    "formulas:substances",
    "formulas:substance",
    "formulas:costs",
    "formulas:what-if",
    "formulas:cost-basis",
    "formulas:rates",
    "batches:receive",
    "batches:count-in",
    "batches:plan",
    "batches:recall-start",
    "labels:sheets",
    "house:responsible",
    "house:export-zip",
    "house:check",
}
"""Pages without a code of their own, which every maker has."""


def test_a_reader_sees_and_writes_nothing(world: World) -> None:
    """GET answers, every POST is 403, and the journal does not grow."""
    before = entries(world.maker)

    seen = statuses(world, world.cast.reader, "get")
    written = statuses(world, world.cast.reader, "post")

    assert odd(seen, 200, 302, 303, 403, 405) == {}
    assert odd(written, 403) == {}
    assert entries(world.maker) == before


def test_a_worker_sees_every_page(world: World) -> None:
    """The bench is the worker's; what is the owner's says so."""
    assert odd(statuses(world, world.cast.worker, "get"), 200, 302, 303, 403, 405) == {}


def test_an_owner_sees_every_page(world: World) -> None:
    """200, a redirect, or 405 for what only takes a POST; nothing changes by being looked at."""
    before = entries(world.maker)

    assert odd(statuses(world, world.cast.owner, "get"), 200, 302, 303, 405) == {}
    assert entries(world.maker) == before


def test_fragments_answer(world: World) -> None:
    """htmx asks for pieces of the same pages."""
    found = statuses(world, world.cast.owner, "get", headers={"HX-Request": "true"})

    assert odd(found, 200, 204, 302, 303, 405) == {}


@pytest.mark.parametrize("zero", ["", "\x00"])
def test_garbage_in_the_address_breaks_nothing(world: World, zero: str) -> None:
    """What can't be read is left out; a code that leads nowhere is 404. A zero byte breaks no database."""
    garbage = {name: value.replace("\x00", zero) or "?" for name, value in GARBAGE.items()}

    found = statuses(world, world.cast.owner, "get", "?" + urlencode(garbage, errors="surrogatepass"))

    assert odd(found, 200, 302, 303, 404, 405) == {}


def test_numbers_and_codes_that_lead_nowhere_are_404(world: World) -> None:
    """Far numbers, other codes, and a code with a zero byte."""
    client = client_of(world.cast.owner)
    base = f"/{world.maker.slug}/"
    code = world.draft.formula.code
    paths = [
        f"formulas/{code}/{FAR}/",
        f"formulas/{code}/99/",
        f"formulas/{code}/{FAR}/approve/",
        "formulas/F-%00/",
        "lots/%00/",
        "batches/nothing/",
        "packs/%F0%9F%A7%B4/",
        f"ingredients/{world.lavender.code}/compositions/{FAR}/confirm/",
        "labels/P-001/nothing/",
    ]

    assert {path: status(client, "get", base + path) for path in paths} == dict.fromkeys(paths, 404)


@pytest.mark.parametrize("method", ["PUT", "DELETE"])
def test_other_methods_are_not_taken(world: World, method: str) -> None:
    """405 everywhere, and nothing written."""
    before = entries(world.maker)

    assert odd(statuses(world, world.cast.owner, method), 405) == {}
    assert entries(world.maker) == before


def test_an_empty_form_breaks_nothing(world: World) -> None:
    """Sentences, a redirect, or 404: never a fault."""
    found = statuses(world, world.cast.owner, "post", data={})

    assert odd(found, 200, 204, 302, 303, 400, 403, 404, 405, 413, 415, 422) == {}


@pytest.mark.parametrize("zero", ["", "\x00"])
def test_a_form_of_garbage_breaks_nothing(world: World, zero: str) -> None:
    """Every field that a form of ours has, filled with what nobody can read."""
    names = [
        "name", "code", "grams", "amount", "unit", "units", "percent", "lot", "line", "scale", "value", "kind",
        "entry_key", "on", "when", "product", "recipient", "place", "decision", "became", "verdict", "basis", "edit",
        "line-0-ingredient", "line-0-percent", "row-0-pack", "row-0-units", "row-0-place", "step-0-text", "found",
        "step-0-min_c", "start", "supplier", "received_on", "lines-TOTAL_FORMS", "lines-0-amount", "key", "facts",
        "password", "do", "field", "why", "reasons", "batch", "pack", "issue", "net_amount", "printed", "text",
        "form-TOTAL_FORMS", "parts-TOTAL_FORMS", "constituents-TOTAL_FORMS", "act", "what", "number", "email",
    ]  # fmt: skip
    data = dict.fromkeys(names, f"{zero}💥-9e999' OR 1=1")

    found = statuses(world, world.cast.owner, "post", data=data)

    assert odd(found, 200, 204, 302, 303, 400, 403, 404, 405, 413, 415, 422) == {}


def test_no_page_speaks_of_a_traceback(world: World) -> None:
    """Pages carry the security headers and no word of the machine."""
    client = client_of(world.cast.owner)
    for name in ("house:today", "batches:batch", "formulas:version", "batches:trace"):
        response = client.get(addresses(world)[name])

        policy = response.headers["Content-Security-Policy"]
        assert "'unsafe-inline'" not in policy, name
        assert "Traceback" not in response.content.decode(), name


def test_a_sign_that_no_database_stores_is_turned_away(world: World) -> None:
    """A zero byte in a form: 400 with what to do, and nothing written."""
    before = entries(world.maker)

    response = client_of(world.cast.owner).post(addresses(world)["formulas:start"], {"name": "Balm\x00"})

    assert response.status_code == 400
    assert "can't be stored" in response.content.decode().replace("&#x27;", "'")
    assert entries(world.maker) == before
