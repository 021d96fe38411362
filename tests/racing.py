"""Several writers at one moment, on connections of their own, on either database.

The embedded test database lives in memory, where connections of several threads don't lock each other as on a
disk. A race therefore runs on a file: the database is copied out before it and back after it. On PostgreSQL
it runs where it is.
"""

from __future__ import annotations

import sqlite3
import tempfile
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TypeVar

import pytest
from django.db import connection, connections

from makers import guards

ResultT = TypeVar("ResultT")
PATIENCE = 60


@pytest.fixture
def committed(transactional_db: None) -> Iterator[None]:
    """A database on which transactions really end. Facts can't be removed, so the guards go before the flush
    that follows, and are put back by it."""
    yield
    guards.remove()


def race(acts: Sequence[Callable[[], ResultT]]) -> list[ResultT | Exception]:
    """Run every act in a thread of its own, all let go at once; what each returned or raised, in order."""
    found: dict[int, ResultT | Exception] = {}
    start = threading.Barrier(len(acts))

    def run(number: int, act: Callable[[], ResultT]) -> None:
        try:
            start.wait(PATIENCE)
            found[number] = act()
        except Exception as error:  # noqa: BLE001 - a loser's refusal is a result
            found[number] = error
        finally:
            connections.close_all()

    with on_a_file():
        threads = [threading.Thread(target=run, args=pair) for pair in enumerate(acts)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(PATIENCE)
    assert len(found) == len(acts), "a writer did not come back"
    return [found[number] for number in range(len(acts))]


@contextmanager
def on_a_file() -> Iterator[None]:
    """Let new connections open a copy of the embedded database on disk, and take it back afterwards."""
    if connection.vendor != "sqlite":
        yield
        return
    assert not connection.in_atomic_block, "a race needs the fixture `committed`"
    connection.ensure_connection()
    here = connection.connection
    settings = connections.settings["default"]
    name = settings["NAME"]
    with tempfile.TemporaryDirectory(prefix="race-") as folder:
        path = Path(folder) / "race.sqlite3"
        with closing(sqlite3.connect(path)) as copy:
            here.backup(copy)
        settings["NAME"] = str(path)
        try:
            yield
        finally:
            settings["NAME"] = name
            with closing(sqlite3.connect(path)) as copy:
                copy.backup(here)
