"""The end of the journal's chain: locked once for what happens together, and followed whatever was taken back."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from makers.actions import By, Refused, recording
from makers.actions.journal import HELD, chain_faults, holding_chain
from makers.models import JournalEntry
from tests.cast import make_maker, make_member

pytestmark = pytest.mark.django_db


def note(by: By, *, slip: bool = False) -> None:
    """One entry; a slip refuses once its own inner entry is written."""
    with recording(by, "maker.changed") as entry:
        entry.about(by.maker)
        if slip:
            with recording(by, "maker.changed") as inner:
                inner.about(by.maker)
            raise Refused("It does not fit.")


def numbers(by: By) -> list[int]:
    """The numbers in the journal, oldest first."""
    return list(JournalEntry.objects.for_maker(by.maker).order_by("pk").values_list("number", flat=True))


def heads_read(queries: CaptureQueriesContext) -> int:
    """How often the end of the chain was looked up."""
    asked = [one["sql"] for one in queries.captured_queries if one["sql"].startswith("SELECT")]
    return sum('FROM "makers_journalhead"' in sql for sql in asked)


def test_an_entry_written_within_another_comes_before_it(by: By) -> None:
    """The inner one ends first; the chain holds, and its end was looked up once."""
    with CaptureQueriesContext(connection) as queries, recording(by, "maker.changed") as outer:
        outer.about(by.maker)
        outer.say(fields="outer")
        note(by)

    last = JournalEntry.objects.for_maker(by.maker).latest("pk")
    assert numbers(by) == [1, 2]
    assert last.change == {"fields": "outer"}
    assert heads_read(queries) == 1
    assert chain_faults(by.maker) == []


def test_what_was_taken_back_leaves_no_gap(by: By) -> None:
    """A refusal inside a stretch takes its entries back; the next entry follows the last that stands."""
    with holding_chain(by.maker):
        note(by)
        with pytest.raises(Refused):
            note(by, slip=True)
        note(by)
        with pytest.raises(Refused):
            note(by, slip=True)

    note(by)

    assert numbers(by) == [1, 2, 3]
    assert chain_faults(by.maker) == []


def test_a_stretch_looks_the_end_up_once(by: By) -> None:
    """Ten entries in one transaction, one lock."""
    with CaptureQueriesContext(connection) as queries, holding_chain(by.maker):
        for _ in range(10):
            note(by)

    assert numbers(by) == list(range(1, 11))
    assert heads_read(queries) == 1


def test_after_a_stretch_nothing_is_held(by: By) -> None:
    """The lock went with the transaction, also when that was given up."""
    with pytest.raises(Refused), holding_chain(by.maker):
        note(by, slip=True)

    assert HELD.get() is None
    note(by)
    assert numbers(by) == [1]
    assert chain_faults(by.maker) == []


def test_another_makers_chain_is_another(by: By) -> None:
    """Two books written in turn within one transaction: each has its own numbers."""
    other = make_member(make_maker())
    with holding_chain(by.maker):
        note(by)
        with holding_chain(other.maker):
            note(other)
            note(by)
            note(other)
        note(by)

    assert numbers(by) == [1, 2, 3]
    assert numbers(other) == [1, 2]
    assert chain_faults(by.maker) == chain_faults(other.maker) == []
