"""What stands against using a lot, and how near its date is.

Usable = released, not held, within its date, something left (ISO 22716 6.4.3, 6.6.6, 6.7 for the decisions;
expired, used up and retest due are reckoned, never set). All reasons are given, not the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

EXPIRY_STEPS = (30, 60, 90)
"""Days before a lot's last good day at which it is brought up: common practice, no source. The first is for
things to do now, the second for the list, the third only for what is ordered rarely."""

SOON_DAYS = EXPIRY_STEPS[1]

DateKind = Literal["expiry", "retest"]

DECIDE = "Release it on its page first, under Decision."
END_HOLD = "End the hold on its page first, or take another lot."
TEST = "Take another lot, or write down on its page a test that moves the date."
"""What can be done about a lot that can't be used, in the words of its page."""


@dataclass(frozen=True, slots=True)
class LotFacts:
    """What is known of a lot on a day. causes: of its open holds, oldest first. unit: "g" or "pieces"."""

    status: str
    on_hand: Decimal
    good_until: date | None = None
    date_kind: str = "expiry"
    causes: tuple[str, ...] = ()
    held: bool = False


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason why a lot can't be used. mark: the state that it shows as."""

    mark: str
    text: str


@dataclass(frozen=True, slots=True)
class Shown:
    """The state in which a list shows a lot. word: replaces the state's own where not empty."""

    mark: str
    word: str = ""


def days_left(good_until: date | None, day: date) -> int | None:
    """Days until the last good day, 0 on it, negative after it; None without a date."""
    return None if good_until is None else (good_until - day).days


def reasons_against(facts: LotFacts, day: date) -> list[Reason]:
    """Every reason why the lot may not be weighed on ``day``; none when it may. The date itself is good."""
    found = []
    if facts.status == "quarantine":
        found.append(Reason("quarantine", f"It is in quarantine: nobody has decided about it yet. {DECIDE}"))
    if facts.status == "rejected":
        found.append(Reason("rejected", "It was rejected. Take another lot."))
    found += [Reason("hold", f"It is on hold: {cause.rstrip(' .')}. {END_HOLD}") for cause in facts.causes]
    if facts.held and not facts.causes:
        found.append(Reason("hold", f"It is on hold. {END_HOLD}"))
    left = days_left(facts.good_until, day)
    if left is not None and left < 0:
        past = "1 day" if left == -1 else f"{-left} days"
        if facts.date_kind == "retest":
            found.append(Reason("retest", f"It was to be tested again {past} ago. {TEST}"))
        else:
            found.append(Reason("expired", f"It expired {past} ago. {TEST}"))
    if facts.on_hand <= 0:
        found.append(Reason("used up", "Nothing of it is left. Take another lot."))
    return found


def shown_state(facts: LotFacts, day: date, *, soon: int = SOON_DAYS) -> Shown:
    """The one state of a lot in a list: what stands against it first, then how near its date is."""
    against = reasons_against(facts, day)
    order: Sequence[str] = ("used up", "rejected", "hold", "expired", "quarantine", "retest")
    for mark in order:
        if any(reason.mark == mark for reason in against):
            return Shown(mark)
    left = days_left(facts.good_until, day)
    if left is not None and left <= soon:
        if facts.date_kind == "retest":
            return Shown("expiring", "Test today" if left == 0 else f"Test in {left} d")
        return Shown("expiring", "Last day" if left == 0 else "1 day" if left == 1 else f"{left} days")
    return Shown("released")


def expiry_step(good_until: date | None, day: date) -> int | None:
    """The smallest step of ``EXPIRY_STEPS`` that the lot's date is within; 0 when past it; None when far."""
    left = days_left(good_until, day)
    if left is None:
        return None
    if left < 0:
        return 0
    return next((step for step in EXPIRY_STEPS if left <= step), None)
