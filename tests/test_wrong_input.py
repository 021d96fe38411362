"""Every form that a maker can reach, posted with what nobody should type: nothing breaks, nothing typed is lost.

The values are common practice among testers; there is no outside list of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html import unescape
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlencode, urljoin

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from pytest_django import DjangoDbBlocker

from makers.models import JournalEntry
from tests.framework import framework_words
from tests.kept import kept
from tests.world import World, addresses, make_world

pytestmark = pytest.mark.django_db


@dataclass
class Field:
    """One control of a form."""

    name: str
    kind: str
    value: str = ""
    choices: list[str] = field(default_factory=list)
    numeric: bool = False


@dataclass
class Form:
    """A form as a browser would send it."""

    url: str
    page: str
    fields: list[Field] = field(default_factory=list)

    @property
    def key(self) -> tuple[str, tuple[str, ...]]:
        """What makes two forms the same."""
        return self.url.partition("?")[0], tuple(sorted({one.name for one in self.fields}))

    def typed(self) -> list[Field]:
        """What a person fills in."""
        return [one for one in self.fields if one.kind not in ("hidden", "submit")]


class Forms(HTMLParser):
    """Finds the forms that are posted, with their controls, also those tied by ``form=``."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.page = page
        self.found: list[Form] = []
        self.by_id: dict[str, Form] = {}
        self.here: Form | None = None
        self.select: Field | None = None
        self.area: Field | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Open a form or note a control."""
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            url = urljoin(self.page, given.get("action", ""))
            self.here = Form(url, self.page)
            if given.get("method", "").lower() == "post":
                self.found.append(self.here)
            if "id" in given:
                self.by_id[given["id"]] = self.here
        elif tag == "option" and self.select is not None:
            self.select.choices.append(given.get("value", ""))
            if "selected" in given or len(self.select.choices) == 1:
                self.select.value = given.get("value", "")
        elif tag in ("input", "select", "textarea", "button") and given.get("name"):
            self.control(tag, given)

    def control(self, tag: str, given: dict[str, str]) -> None:
        """Note a control where it belongs."""
        owner = self.by_id.get(given["form"]) if "form" in given else self.here
        kind = given.get("type", "text") if tag == "input" else "submit" if tag == "button" else tag
        one = Field(given["name"], kind, given.get("value", ""))
        one.numeric = given.get("inputmode") in ("decimal", "numeric")
        if kind in ("checkbox", "radio") and "checked" not in given:
            one.choices, one.value = [one.value], ""
        if owner is not None and one.name != "csrfmiddlewaretoken":
            owner.fields.append(one)
        if tag == "select":
            self.select = one
        if tag == "textarea":
            self.area = one

    def handle_data(self, data: str) -> None:
        """What stands in a text box."""
        if self.area is not None:
            self.area.value += data

    def handle_endtag(self, tag: str) -> None:
        """Leave a form or a control."""
        if tag == "form":
            self.here = None
        elif tag == "select":
            self.select = None
        elif tag == "textarea":
            self.area = None


def read_out(answer: Any) -> None:
    """Take a file to its end, so that it is closed: closing the answer itself would end the connection."""
    if answer.streaming:
        answer.getvalue()


def forms_of(world: World, client: Client) -> list[Form]:
    """Every different form on the pages of the world."""
    found: dict[Any, Form] = {}
    for name, url in addresses(world).items():
        if name in ("house:export-zip",):
            continue
        page = client.get(url)
        if page.status_code == 200 and "text/html" in page.headers.get("Content-Type", ""):
            reader = Forms(url)
            reader.feed(page.content.decode())
            for form in reader.found:
                if form.url.startswith(f"/{world.maker.slug}/"):
                    found.setdefault(form.key, form)
        read_out(page)
    return list(found.values())


@pytest.fixture(scope="module")
def world(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    """The world, made once."""
    with kept(django_db_blocker):
        yield make_world()


@pytest.fixture(scope="module")
def client(world: World) -> Client:
    """The owner's browser; what breaks comes back as 500."""
    client = Client(raise_request_exception=False)
    client.force_login(world.cast.owner.user)
    return client


@pytest.fixture(scope="module")
def found(world: World, client: Client) -> list[Form]:
    """The forms, read once."""
    return forms_of(world, client)


HOSTILE: dict[str, str] = {
    "empty": "",
    "spaces": "   ",
    "negative": "-1",
    "zero": "0",
    "huge exponent": "1e400",
    "tiny exponent": "1e-400",
    "not a number": "NaN",
    "infinity": "Infinity",
    "decimal comma": "1,5",
    "both signs": "1.234,5",
    "beyond 64 bits": "99999999999999999999",
    "beyond 32 bits": "2147483648",
    "many digits": "1." + "1" * 400,
    "other digits": "\u0661\u0662",
    "very long": "x" * 10_000,
    "control signs": "a\x01\x07\x1b[31mb\r\n\tc",
    "right to left": "\u202e\u05e9\u05dc\u05d5\u05dd \u0645\u0631\u062d\u0628\u0627",
    "emoji": "\U0001f9f4\u200d\U0001f468",
    "markup": "<script>alert(1)</script>\"'&amp;",
    "day zero": "0000-00-00",
    "no such day": "31.02.2026",
    "no such day, written large": "2026-02-31",
    "last year there is": "9999-12-31",
    "first year there is": "0001-01-01",
    "somebody's id": "3f0c2b1e-0000-4000-8000-000000000001",
}
"""What is typed into every box at once, and into one after another."""

UNSTORABLE = {"zero byte": "a\x00b", "half a sign": "a%ED%A0%80b"}
"""Signs that a database or an encoding refuses."""


def plain(one: Field) -> str:
    """Something that a person could have meant in a box."""
    if one.kind in ("hidden", "submit", "file") or one.value:
        return one.value
    if one.choices:
        return next((choice for choice in one.choices if choice), "")
    if "email" in one.kind or one.name == "email":
        return "ann@example.org"
    if one.name.endswith(("on", "until", "for", "became", "from")) and one.kind == "text":
        return "2026-01-02"
    return "5" if one.kind == "text" and one.numeric else "Tern"


def filled(form: Form) -> dict[str, str | list[str]]:
    """The form as a careful person sends it."""
    return {one.name: plain(one) for one in form.fields if one.kind != "file"}


def send(client: Client, form: Form, data: Any) -> tuple[int, str, int]:
    """Post, take back what it wrote; the status, the page, and how much the journal grew."""
    before = JournalEntry.objects.count()
    with transaction.atomic():  # one savepoint: whatever it wrote is taken back
        response = client.post(form.url, data)
        body = b"" if response.streaming else response.content
        read_out(response)
        for name in response.wsgi_request.FILES:
            for upload in response.wsgi_request.FILES.getlist(name):
                upload.close()
        grown = JournalEntry.objects.count() - before if response.status_code < 500 else 0
        transaction.set_rollback(True)
    return response.status_code, body.decode(), grown


ROUNDS = 5
UNSHOWN = ("control signs",)
"""Values whose line ends a browser and a page rightly write otherwise."""
DROPPED = ("/export/records.zip", "/opened/")
"""Forms of one button."""
READS = ("/formulas/read/", "/compositions/read/")
"""Forms that show what they make of a text and write nothing yet: an answer, not a refusal."""


def wrong(form: Form, turn: int) -> dict[str, tuple[str, str]]:
    """Each box that is typed into with another of the values; over the turns each box gets several."""
    labels = list(HOSTILE)
    boxes = [one.name for one in form.typed() if one.kind in ("text", "textarea", "email", "url")]
    places = dict.fromkeys(boxes)
    return {
        name: (label, HOSTILE[label])
        for at, name in enumerate(places)
        for label in [labels[(turn * ROUNDS + at * 3 + len(form.url)) % len(labels)]]
    }


def says_why(page: str) -> bool:
    """The page tells what is wrong, in a sentence that a control or an alert carries."""
    return any(sign in page for sign in ('aria-invalid="true"', 'class="wrong', 'role="alert"', "errorlist"))


def test_there_are_forms_to_fill(found: list[Form]) -> None:
    """The pages of the world hold forms of every world, and more boxes than anyone fills by hand."""
    assert {form.url.split("/")[2] for form in found} >= {
        "settings",
        "formulas",
        "ingredients",
        "stock",
        "labels",
    }
    assert len(found) > 80
    assert sum(len(form.typed()) for form in found) > 600


@pytest.mark.parametrize("turn", range(ROUNDS))
def test_wrong_values_break_nothing_and_are_kept(
    world: World, client: Client, found: list[Form], turn: int
) -> None:
    """Never a fault; what is refused says why, shows what was typed, and wrote nothing."""
    faults: list[Any] = []
    for form in found:
        if form.url.endswith(DROPPED):
            continue
        typed = wrong(form, turn)
        data = {**filled(form), **{name: value for name, (_, value) in typed.items()}}
        status, body, grown = send(client, form, data)
        if status >= 500 or status not in (200, 204, 302, 303, 400, 403, 404, 409, 413, 422):
            faults.append((form.url, status, typed))
        if status in (200, 400, 422):
            faults += [(form.url, words) for words in framework_words(body)]
        if status in (200, 400, 422) and typed:
            page = unescape(body)
            lost = [
                (name, label)
                for name, (label, value) in typed.items()
                if label not in UNSHOWN and value.strip() not in page
            ]
            if grown or lost or not (says_why(body) or form.url.endswith(READS)):
                faults.append((form.url, grown, lost, says_why(body)))

    assert faults == []


@pytest.mark.parametrize("label", ["beyond 64 bits", "somebody's id"])
def test_choices_that_are_not_offered_break_nothing(
    world: World, client: Client, found: list[Form], label: str
) -> None:
    """Lists, ticks, and the hidden fields of a page that somebody changed: refused, never a fault."""
    faults: list[Any] = []
    for form in found:
        changed = {
            one.name: HOSTILE[label]
            for one in form.fields
            if one.kind in ("select", "radio", "checkbox", "hidden")
        }
        if changed:
            status, body, grown = send(client, form, {**filled(form), **changed})
            faults += (
                [(form.url, words) for words in framework_words(body)] if status in (200, 400, 422) else []
            )
            if status >= 500 or (status in (200, 400, 422) and grown):
                faults.append((form.url, status, grown))

    assert faults == []


def test_missing_and_repeated_fields_break_nothing(world: World, client: Client, found: list[Form]) -> None:
    """A form without one of its fields or without any, and with each of them sent twice."""
    faults: list[Any] = []
    for at, form in enumerate(found):
        names = [one.name for one in form.fields if one.kind != "file"]
        given = filled(form)
        if names:
            without = {name: value for name, value in given.items() if name != names[at % len(names)]}
            twice = {name: [value, "-1"] for name, value in given.items()}
            for sent in ({}, without, twice):
                status, body, _ = send(client, form, sent)
                if status >= 500 or (status in (200, 400, 422) and framework_words(body)):
                    faults.append((form.url, status, sent, framework_words(body)))

    assert faults == []


FILES = {
    "empty.pdf": b"",
    "program.pdf": b"MZ\x90\x00\x03" + b"\x00" * 200,
    "sheet.csv": b"\x00\xff\xfe\xed\xa0\x80;;;\n",
    "\u05e9\U0001f9f4\u202e.xlsx": b"PK\x03\x04nothing",
    "../../" + "n" * 300 + ".pdf": b"%PDF-1.4 cut",
    "large.pdf": b"%PDF-1.4\n" + b"0" * (26 * 1024 * 1024),
}


def test_files_of_the_wrong_kind_or_size_break_nothing(
    world: World, client: Client, found: list[Form]
) -> None:
    """Empty, a program under another name, noise, a broken archive, a name from afar, one too large."""
    faults = []
    for form in found:
        boxes = [one.name for one in form.fields if one.kind == "file"]
        for name, content in FILES.items() if boxes else ():
            # once per form: a large file costs a second
            files = {boxes[0]: SimpleUploadedFile(name, content, content_type="application/pdf")}
            status, body, grown = send(client, form, {**filled(form), **files})
            refused = status in (200, 400, 413, 422)
            told = says_why(body) or form.url.endswith(READS)
            if status >= 500 or (refused and (grown or not told)):
                faults.append((form.url, name[:20], status, grown))
            if name in ("empty.pdf", "program.pdf", "large.pdf") and not refused:
                faults.append((form.url, name, status, grown))

    assert faults == []


@pytest.mark.parametrize("label", UNSTORABLE)
def test_signs_that_no_database_stores_break_nothing(
    world: World, client: Client, found: list[Form], label: str
) -> None:
    """A zero byte is turned away, half a sign is replaced; SQLite and PostgreSQL agree."""
    raw = UNSTORABLE[label].replace("\x00", "%00")
    faults = []
    for form in found:
        body = "&".join(f"{urlencode({one.name: ''})}{raw}" for one in form.typed() if one.kind != "file")
        before = JournalEntry.objects.count()
        with transaction.atomic():
            answer = client.post(form.url, body, content_type="application/x-www-form-urlencoded")
            written = JournalEntry.objects.count() - before if answer.status_code < 500 else 0
            transaction.set_rollback(True)
        if answer.status_code >= 500 or (
            label == "zero byte" and body and (answer.status_code != 400 or written)
        ):
            faults.append((form.url, answer.status_code, written))

    assert faults == []


QUERIES = (
    {"page": "-1", "sort": "-", "q": "%" * 300, "from": "0000-00-00", "to": "9999-12-31", "as": "exe"},
    {"page": "1e400", "sort": "\u202e", "q": "a\x00", "after": "NaN", "from": "0001-01-01", "since": "31.02.2026"},
    {"page": "99999999999999999999", "q": "x" * 5000, "on": "9999-12-31", "line": "-1", "g": "Infinity"},
)  # fmt: skip


@pytest.mark.parametrize("query", QUERIES)
def test_wrong_queries_break_no_page(world: World, client: Client, query: dict[str, str]) -> None:
    """Every page with what nobody should ask for."""
    faults = {}
    for name, url in addresses(world).items():
        if name != "house:export-zip":
            answer = client.get(f"{url}?{urlencode(query)}")
            read_out(answer)
            if answer.status_code >= 500:
                faults[name] = answer.status_code

    assert faults == {}
