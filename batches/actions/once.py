"""One effect for a submission that arrives twice."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar, cast
from uuid import UUID, uuid5

from makers.actions import WRITERS, By
from makers.models import MakerRecord

RecordT = TypeVar("RecordT", bound=MakerRecord)


class Repeated(Exception):
    """Leaves a recording when the same submission was written down while this one waited."""

    def __init__(self, record: Any) -> None:
        super().__init__("written down already")
        self.record = record


def first_of(model: type[RecordT], by: By, entry_key: UUID | None) -> RecordT | None:
    """The event that carries this key, or None."""
    if entry_key is None:
        return None
    return model._default_manager.filter(maker=by.maker, entry_key=entry_key).first()


def once(model: type[RecordT], by: By, entry_key: UUID | None, act: Callable[[], RecordT]) -> RecordT:
    """Run ``act`` unless the event with this key exists; its first result is returned to every repeat.

    ``act`` calls ``still_new`` inside its recording, where the maker's chain is locked, so that of two
    submissions at the same moment the second finds the first.
    """
    by.must_be(WRITERS)
    found = first_of(model, by, entry_key)
    if found is not None:
        return found
    try:
        return act()
    except Repeated as repeated:
        return cast(RecordT, repeated.record)


def still_new(model: type[MakerRecord], by: By, entry_key: UUID | None) -> None:
    """Inside a recording: leave it when the key has been written meanwhile."""
    found = first_of(model, by, entry_key)
    if found is not None:
        raise Repeated(found)


def part_key(entry_key: UUID | None, part: int | str) -> UUID | None:
    """The key of one part of a submission that writes several events."""
    return None if entry_key is None else uuid5(entry_key, str(part))
