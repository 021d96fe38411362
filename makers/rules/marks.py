"""States as a word and a mark: which shape and which ink each state of a record takes.

Colour is spent on what needs a hand: "stop" and "caution" are signal inks, everything else is plain ink.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Tone = Literal["", "stop", "caution"]


@dataclass(frozen=True, slots=True)
class State:
    """How a state is shown. mark: id of a symbol in the sprite without its prefix."""

    word: str
    mark: str
    tone: Tone = ""


STATES: dict[str, State] = {
    # papers and records
    "draft": State("Draft", "draft"),
    "approved": State("Approved", "released"),
    "withdrawn": State("Withdrawn", "rejected"),
    "active": State("In use", "released"),
    "retired": State("Not used any more", "rejected"),
    # batches
    "planned": State("Planned", "planned"),
    "making": State("Making", "making"),
    "made": State("Made", "made"),
    "released": State("Released", "released"),
    "rejected": State("Rejected", "rejected", "stop"),
    "trial": State("Trial", "draft"),
    "voided": State("Release voided", "stale", "caution"),
    # lots
    "quarantine": State("Quarantine", "quarantine", "caution"),
    "hold": State("Hold", "hold", "stop"),
    "expired": State("Expired", "expired", "stop"),
    "expiring": State("Expires soon", "expired", "caution"),
    "retest": State("Retest due", "expired", "caution"),
    "short": State("Short", "caution", "caution"),
    "used up": State("Used up", "rejected"),
    # labels
    "stale": State("Stale", "stale", "caution"),
    "present": State("Present", "released"),
    "missing": State("Missing", "stop", "stop"),
    "confirm": State("To be confirmed", "unknown"),
    # findings
    "stop": State("Stop", "stop", "stop"),
    "unknown": State("Unknown", "unknown"),
    "caution": State("Caution", "caution", "caution"),
    "note": State("Note", "note"),
    "passed": State("Passed", "released"),
    # readings and weighings
    "within": State("Within", "released"),
    "out": State("Out", "stop", "stop"),
    "weighed": State("Weighed", "released"),
    "to weigh": State("To weigh", "planned"),
    "heat": State("Heat to", "heat"),
    "cool": State("Cool to", "cool"),
    # what happens to people and packs
    "open": State("Open", "planned"),
    "closed": State("Closed", "released"),
    "judged": State("Judged", "released"),
    "clock": State("Clock running", "clock", "caution"),
    "recall": State("Recall", "stop", "stop"),
    "rehearsal": State("Rehearsal", "draft"),
    "returned": State("Came back", "quarantine", "caution"),
    "suspected": State("Suspected", "caution", "caution"),
    "known": State("Known", "released"),
    # sending
    "waiting": State("Waiting", "queued"),
    "sent": State("Sent", "sent"),
    "done": State("Done", "released"),
}
"""Every state word of the product, by its key."""

MARKS = frozenset(state.mark for state in STATES.values()) | {"places", "up", "down"}
"""Symbols that the sprite must hold."""


def state_for(key: str) -> State:
    """How the state ``key`` is shown. Raises KeyError for a state that the product doesn't have."""
    return STATES[key]
