"""What stands against a lot (ISO 22716 6.4.3, 6.6.6, 6.7; the steps of days: common practice, no source)."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from batches.rules.lot_state import LotFacts, expiry_step, reasons_against, shown_state

TODAY = date(2026, 11, 25)


def facts(**changes: Any) -> LotFacts:
    """A released lot with something in it and no date."""
    return LotFacts(**{"status": "released", "on_hand": Decimal(10), **changes})


def test_a_released_lot_with_something_in_it_may_be_used() -> None:
    """Nothing stands against it."""
    assert reasons_against(facts(), TODAY) == []


def test_the_last_day_is_still_good() -> None:
    """A date is the last good day, not the first bad one."""
    assert reasons_against(facts(good_until=TODAY), TODAY) == []


def test_the_day_after_it_is_expired() -> None:
    """The reason says since when."""
    (reason,) = reasons_against(facts(good_until=TODAY - timedelta(days=1)), TODAY)

    assert reason.mark == "expired"
    assert reason.text == (
        "It expired 1 day ago. Take another lot, or write down on its page a test that moves the date."
    )


def test_every_reason_says_what_to_do() -> None:
    """In the words that the lot's page uses, and with a cause that ends as it likes."""
    several = facts(
        status="quarantine", good_until=TODAY - timedelta(days=3), causes=("smells of hay.",), held=True
    )

    said = [reason.text for reason in reasons_against(several, TODAY)]

    assert said[0].endswith("Release it on its page first, under Decision.")
    assert said[1] == ("It is on hold: smells of hay. End the hold on its page first, or take another lot.")
    assert "a test that moves the date" in said[2]


def test_every_reason_is_given() -> None:
    """Quarantined, twice on hold, past its retest and used up: five reasons, not the first."""
    lot = facts(
        status="quarantine",
        on_hand=Decimal(0),
        good_until=TODAY - timedelta(days=3),
        date_kind="retest",
        causes=("smells of hay", "wet sack"),
        held=True,
    )

    marks = [reason.mark for reason in reasons_against(lot, TODAY)]

    assert marks == ["quarantine", "hold", "hold", "retest", "used up"]


def test_a_hold_counts_without_its_cause_at_hand() -> None:
    """Lists know only that there is one."""
    assert [reason.mark for reason in reasons_against(facts(held=True), TODAY)] == ["hold"]


@pytest.mark.parametrize(
    ("changes", "mark", "word"),
    [
        ({}, "released", ""),
        ({"good_until": TODAY + timedelta(days=12)}, "expiring", "12 days"),
        ({"good_until": TODAY + timedelta(days=1)}, "expiring", "1 day"),
        ({"good_until": TODAY}, "expiring", "Last day"),
        ({"good_until": TODAY + timedelta(days=60)}, "expiring", "60 days"),
        ({"good_until": TODAY + timedelta(days=61)}, "released", ""),
        ({"good_until": TODAY - timedelta(days=1)}, "expired", ""),
        ({"status": "quarantine"}, "quarantine", ""),
        ({"status": "quarantine", "held": True}, "hold", ""),
        ({"status": "rejected", "held": True}, "rejected", ""),
        ({"status": "rejected", "on_hand": Decimal(0)}, "used up", ""),
    ],
)
def test_a_list_shows_the_worst_first(changes: dict[str, Any], mark: str, word: str) -> None:
    """One mark for a lot: what stands against it, then how near its date is."""
    shown = shown_state(facts(**changes), TODAY)

    assert (mark, word) == (shown.mark, shown.word)


@pytest.mark.parametrize(
    ("days", "step"), [(-1, 0), (0, 30), (30, 30), (31, 60), (60, 60), (61, 90), (90, 90), (91, None)]
)
def test_a_date_is_brought_up_at_30_60_and_90_days(days: int, step: int | None) -> None:
    """At a step is within it."""
    assert step == expiry_step(TODAY + timedelta(days=days), TODAY)


def test_without_a_date_nothing_is_brought_up() -> None:
    """No date is not a near one."""
    assert expiry_step(None, TODAY) is None
