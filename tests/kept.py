"""One world for the tests of a module: made once, read by each, gone with the last."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction
from pytest_django import DjangoDbBlocker


@contextmanager
def kept(blocker: DjangoDbBlocker) -> Iterator[None]:
    """Keep what is written inside for a whole module and take it back at the end.

    For fixtures of module scope. The tests are marked ``django_db``: a database is set up for
    marked tests alone, and what one of them writes is undone after it.
    """
    with blocker.unblock(), transaction.atomic():
        yield
        transaction.set_rollback(True)
