"""Eight who act at one moment: the journal has no gap, no number twice, and its chain holds."""

from __future__ import annotations

import json
from decimal import Decimal
from functools import partial

import pytest

from makers.actions import By, Refused, give_code, recording
from makers.actions.checking import guard_faults
from makers.actions.house import add_scale
from makers.actions.journal import chain_faults
from makers.models import Code, JournalEntry, JournalHead, Scale
from makers.registries import code_kinds
from tests.cast import make_cast
from tests.racing import committed, race

__all__ = ["committed"]
pytestmark = pytest.mark.usefixtures("committed")
WRITERS = 8
EACH = 5


def numbers(by: By) -> list[int]:
    """The numbers in the journal, oldest first."""
    return list(JournalEntry.objects.for_maker(by.maker).order_by("pk").values_list("number", flat=True))


def test_eight_racing_actions_leave_a_gapless_chain() -> None:
    """Five actions each of eight members at once: forty entries, each on the one before it."""
    by = make_cast().owner

    def act(member: int) -> int:
        for turn in range(EACH):
            add_scale(by, name=f"{member}.{turn}", readability_g=Decimal("0.1"), capacity_g=Decimal(100))
        return member

    found = race([partial(act, member) for member in range(WRITERS)])

    assert found == list(range(WRITERS))
    entries = list(JournalEntry.objects.for_maker(by.maker).order_by("number"))
    assert numbers(by) == list(range(1, WRITERS * EACH + 1))
    assert len({json.loads(entry.text)["previous"] for entry in entries}) == len(entries)
    assert (
        JournalHead.objects.get(maker=by.maker).number
        == Scale.objects.for_maker(by.maker).count()
        == len(entries)
    )
    assert chain_faults(by.maker) == []
    assert guard_faults() == []


def test_actions_that_fail_in_the_race_leave_no_gap() -> None:
    """Every second one gives up half way; the numbers of the others still follow from one another."""
    by = make_cast().owner

    def act(member: int) -> None:
        with recording(by, "scale.changed") as entry:
            entry.about(by.maker)
            if member % 2:
                raise Refused("changed my mind")

    found = race([partial(act, member) for member in range(WRITERS)])

    assert sum(isinstance(one, Refused) for one in found) == WRITERS // 2
    assert numbers(by) == list(range(1, WRITERS // 2 + 1))
    assert chain_faults(by.maker) == []


def test_eight_who_ask_for_a_code_get_eight_codes_in_a_row() -> None:
    """A series of codes has no gap and gives none twice."""
    by = make_cast().owner
    kind = next(iter(code_kinds)).name

    def act() -> str:
        with recording(by, "scale.changed") as entry:
            entry.about(by.maker)
            return give_code(by, kind, by.maker)

    found = race([act] * WRITERS)

    given = list(Code.objects.filter(maker=by.maker).order_by("pk").values_list("text", flat=True))
    assert sorted(map(str, found)) == sorted(given)
    assert len(set(given)) == WRITERS
    assert [int("".join(mark for mark in text[-3:] if mark.isdigit())) for text in given] == list(
        range(1, WRITERS + 1)
    )


def test_two_makers_do_not_wait_for_each_other_in_number() -> None:
    """Each has a chain of its own, though they write at once."""
    cast = make_cast()
    ones = [cast.owner, cast.stranger] * (WRITERS // 2)

    def act(by: By, number: int) -> None:
        add_scale(by, name=str(number), readability_g=Decimal("0.1"), capacity_g=Decimal(100))

    race([partial(act, by, number) for number, by in enumerate(ones)])

    for by in (cast.owner, cast.stranger):
        assert numbers(by) == list(range(1, WRITERS // 2 + 1))
        assert chain_faults(by.maker) == []
