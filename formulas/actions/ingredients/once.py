"""A form sent twice has the effect of one: its key becomes the record's identity."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, TypeVar
from uuid import UUID

from django.db.models import Model

from makers.actions import WRITERS, By
from makers.actions.journal import holding_chain

ModelT = TypeVar("ModelT", bound=Model)


@contextmanager
def settled(by: By) -> Iterator[None]:
    """Hold the maker's chain, so that what is looked up here still stands when it is written down.

    Raises PermissionDenied for a reader.
    """
    by.must_be(WRITERS)
    with holding_chain(by.maker):
        yield


def written(by: By, model: type[ModelT], entry_key: UUID | None) -> ModelT | None:
    """The maker's record that this key already made. Ask inside ``settled``."""
    if entry_key is None:
        return None
    rows: Any = model._default_manager
    found: ModelT | None = rows.filter(maker=by.maker, uuid=entry_key).first()
    return found


def identity(entry_key: UUID | None) -> dict[str, UUID]:
    """The new record's own identity, where the form brought one."""
    return {} if entry_key is None else {"uuid": entry_key}
