"""The demo for tests: filled once in a run, by the command a maker uses, and copied to each test that wants it."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from django.contrib.contenttypes.models import ContentType
from django.db import connection
from django.test import override_settings
from pytest_django import DjangoDbBlocker

from tests.browser import house as houses

PATIENCE_S = 300
HOUSE = "demo"
"""The folder that ``--demo`` makes inside the one it is given."""


@dataclass(frozen=True, slots=True)
class Filled:
    """A data folder with the demo in it, and what its filling printed. It is copied, never written to."""

    folder: Path
    said: str

    def copy(self, to: Path) -> Path:
        """Copy the folder into another one; returns it."""
        return Path(shutil.copytree(self.folder, to, dirs_exist_ok=True))


def fill_once(base: Path) -> Filled:
    """Start a house with the demo and stop it again, unless another process of this run did.

    base: the folder for temporary files of this process; those of a parallel run share the one above. The lock is
    a transaction on a small database: it goes with the process that holds it, on every system.
    """
    root = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    folder, done = root / "filled-demo", root / "filled-demo.txt"
    with closing(
        sqlite3.connect(root / "filled-demo.lock", timeout=PATIENCE_S, isolation_level=None)
    ) as lock:
        lock.execute("BEGIN EXCLUSIVE")
        if not done.exists():
            shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir()
            house = houses.start(folder, "--demo", *houses.LIGHT)
            house.stop()
            done.write_text(house.said(), encoding="utf-8")
    return Filled(folder, done.read_text(encoding="utf-8"))


@contextmanager
def brought_in(filled: Filled, blocker: DjangoDbBlocker) -> Iterator[None]:
    """Put the demo, with its papers, in the place of what the test database of SQLite holds; at the end, that again.

    For fixtures of module scope. The tests are marked ``django_db``: what one of them writes is undone after it.
    """
    house = filled.folder / HOUSE
    with (
        blocker.unblock(),
        closing(sqlite3.connect(":memory:")) as before,
        override_settings(MEDIA_ROOT=house / "files"),
    ):
        connection.ensure_connection()
        connection.connection.backup(before)
        with closing(sqlite3.connect(house / "stillroom.sqlite3")) as source:
            source.backup(connection.connection)
        ContentType.objects.clear_cache()
        try:
            yield
        finally:
            before.backup(connection.connection)
            ContentType.objects.clear_cache()
