"""The browser, and the houses it visits: one empty, one with the demo to look at, and demos to write in."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from tests.browser import house as houses
from tests.browser.house import House
from tests.chromium import find_chromium
from tests.filled import Filled

HERE = Path(__file__).parent
PATIENCE_MS = 20_000
"""How long what is expected may take on a busy machine."""
PHONE: dict[str, Any] = {"viewport": {"width": 360, "height": 800}, "has_touch": True, "is_mobile": True}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder drives a browser."""
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """A running Chromium.

    Its driver keeps an event loop in this thread until the end, which Django takes for asynchronous code: tests
    with a database that come after it in the same process would be refused theirs. All of it is synchronous.
    """
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=PATIENCE_MS)
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_chromium(), args=houses.FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def empty_house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """A house that starts with an empty database; the first test that needs it opens its book."""
    running = houses.start(tmp_path_factory.mktemp("empty"), *houses.LIGHT)
    yield running
    running.stop()


@pytest.fixture
def bench_page(page: Any, empty_house: House) -> tuple[Any, str]:
    """A page signed in to the workshop that was opened in the empty house, and the workshop's address."""
    return page, houses.enter(page, empty_house)


@pytest.fixture(scope="session")
def demo_house(tmp_path_factory: pytest.TempPathFactory, filled_demo: Filled) -> Iterator[House]:
    """A house with the demo in it, to look at."""
    running = houses.start(filled_demo.copy(tmp_path_factory.mktemp("demo")), "--demo")
    yield running
    running.stop()


@pytest.fixture
def own_demo(tmp_path: Path, filled_demo: Filled) -> Iterator[House]:
    """A house with the demo in it, of this test alone: what it writes there nobody else meets."""
    running = houses.start(filled_demo.copy(tmp_path), "--demo", *houses.LIGHT)
    yield running
    running.stop()


def complained(texts: list[str]) -> list[str]:
    """What of a console is a fault: not that the network is away, nor a request broken off by leaving its page.

    htmx reports a request that was broken off as two errors, of which only the second tells it from one that failed.
    """
    found: list[str] = []
    for text in texts:
        if "ERR_INTERNET_DISCONNECTED" in text:
            continue
        if text.startswith("htmx:sendAbort") and found and found[-1].startswith("htmx:afterRequest"):
            found.pop()
            continue
        found.append(text)
    return found


@contextmanager
def watched(context: Any) -> Iterator[Any]:
    """A page whose console is listened to: what it complains of fails the test, but for what `complained` lets by."""
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    yield page
    context.close()
    assert complained(complaints) == []


@pytest.fixture
def page(chromium: Any) -> Iterator[Any]:
    """A laptop page."""
    with watched(chromium.new_context(viewport={"width": 1366, "height": 900})) as found:
        yield found


@pytest.fixture
def phone(chromium: Any) -> Iterator[Any]:
    """A phone page of 360 px with touch."""
    with watched(chromium.new_context(**PHONE)) as found:
        yield found


@pytest.fixture
def plain_phone(chromium: Any) -> Iterator[Any]:
    """A phone page of 360 px on which no script runs."""
    with watched(chromium.new_context(**PHONE, java_script_enabled=False)) as found:
        yield found
