"""What every test shares: the cast; and the browser tests are left out where no browser is, and said to be."""

from __future__ import annotations

import os

import pytest
from django.test import Client
from hypothesis import HealthCheck, settings

from makers.actions import By
from makers.models import Maker
from tests.cast import Cast, make_cast
from tests.chromium import LEFT_OUT, find_chromium, is_needed
from tests.filled import Filled, fill_once

# A busy machine is no finding; a run on CI repeats the same examples, so that it fails for a change alone.
settings.register_profile(
    "stillroom",
    deadline=None,
    derandomize="CI" in os.environ,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("stillroom")


LONG = (
    "browser",
    "test_query_counts.py",
    "test_demo.py",
    "test_upgrade.py",
    "test_serve.py",
    "test_https.py",
)
"""Files and folders whose tests, or what they share, take many seconds each."""


def pytest_configure(config: pytest.Config) -> None:
    """Refuse to run at all where a browser is needed and none is found."""
    if is_needed() and not find_chromium():
        raise pytest.UsageError("STILLROOM_NEED_BROWSER is set, but no Chromium was found.")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave the browser tests out where no Chromium is, and benchmarks unless they were asked for by -m.

    What takes long goes first: at the end of a parallel run, processes then have short tests to share.
    """
    without = set()
    if not find_chromium():
        without.add("browser")
    if "benchmark" not in str(config.option.markexpr):
        without.add("benchmark")
    out = [item for item in items if without & {mark.name for mark in item.iter_markers()}]
    if out:
        config.hook.pytest_deselected(items=out)
        items[:] = [item for item in items if item not in set(out)]
    items.sort(key=lambda item: not set(LONG) & set(item.path.parts))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Say at the end what was left out."""
    if not find_chromium() and "not browser" not in str(config.option.markexpr):
        terminalreporter.write_line(LEFT_OUT, yellow=True)


@pytest.fixture(scope="session")
def filled_demo(tmp_path_factory: pytest.TempPathFactory) -> Filled:
    """The demo in a data folder, filled once for all processes of a run."""
    return fill_once(tmp_path_factory.getbasetemp())


@pytest.fixture
def cast(db: None) -> Cast:
    """The maker with its members, and a stranger."""
    return make_cast()


@pytest.fixture
def maker(cast: Cast) -> Maker:
    """Whose workshop it is."""
    return cast.maker


@pytest.fixture
def by(cast: Cast) -> By:
    """The owner, who acts."""
    return cast.owner


@pytest.fixture
def at_home(client: Client, by: By) -> Client:
    """A browser in which the owner is signed in."""
    client.force_login(by.user)
    return client
