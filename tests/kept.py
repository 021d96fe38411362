"""One world for the tests of a module: made once, read by each, gone with the last."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction
from pytest_django import DjangoDbBlocker


@contextmanager
def kept(blocker: DjangoDbBlocker) -> Iterator[None]:
    """Keep what is written inside for a whole module and take it back at the end.

    For fixtures of module scope. A test that writes asks for ``db`` as well: its own changes are undone.
    """
    with blocker.unblock(), transaction.atomic():
        yield
        transaction.set_rollback(True)
