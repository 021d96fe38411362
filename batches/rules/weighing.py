"""Judging a weighing against its plan."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

from batches.rules.lot_state import LotFacts, Reason, reasons_against
from formulas.rules.number import ZERO, difference, figure

Verdict = Literal["within", "over", "under"]


@dataclass(frozen=True, slots=True)
class Judged:
    """What a line holds against its plan; ``off_g`` is signed. fact: the figures. cure: what can be done."""

    verdict: Verdict
    off_g: Decimal
    fact: str
    cure: str = ""

    @property
    def text(self) -> str:
        """The fact, and what to do where something is to be done."""
        return f"{self.fact} {self.cure}".strip()


OVER = "{off} g over; {allowed} g is allowed."
SHORT = "{off} g short; {allowed} g is allowed."
RANGE = "{held} g; {low} to {high} g is the range."
OVER_CURE = "Keep it and say why, or take some out and weigh again."
SHORT_CURE = "Weigh the rest, or say why it stays."
RANGE_CURE = "Say why."
BLANK = "{}"


@dataclass(frozen=True, slots=True)
class DeviceJudge:
    """What a device needs to judge the next grams of a line as the server does.

    low, high: between what they are within. zero: from where the figure of the sentences is counted. over, under:
    the sentences, with ``{}`` in the place of that figure.
    """

    low: Decimal
    high: Decimal
    zero: Decimal
    over: str
    under: str


def judge(planned_g: Decimal, tolerance_g: Decimal, held_g: Decimal) -> Judged:
    """Compare the grams that a line holds with its plan. At the tolerance is within it."""
    off = held_g - planned_g
    if abs(off) <= tolerance_g:
        return Judged("within", off, f"{figure(held_g)} g is within.")
    over = off > 0
    fact = (OVER if over else SHORT).format(off=figure(abs(off)), allowed=figure(tolerance_g))
    return Judged("over" if over else "under", off, fact, OVER_CURE if over else SHORT_CURE)


def judge_range(low_g: Decimal, high_g: Decimal, held_g: Decimal) -> Judged:
    """Compare what was added as needed with its range; the ends are within."""
    low, high = figure(low_g), figure(high_g)
    if low_g <= held_g <= high_g:
        return Judged("within", Decimal(0), f"{figure(held_g)} g is within {low} to {high} g.")
    off = held_g - high_g if held_g > high_g else held_g - low_g
    fact = RANGE.format(held=figure(held_g), low=low, high=high)
    return Judged("over" if off > 0 else "under", off, fact, RANGE_CURE)


def device_judge(planned_g: Decimal, tolerance_g: Decimal, held_g: Decimal) -> DeviceJudge:
    """``judge`` for grams to come, where ``held_g`` are in already."""
    todo, allowed = planned_g - held_g, figure(tolerance_g)
    over, under = (one.format(off=BLANK, allowed=allowed) for one in (OVER, SHORT))
    return DeviceJudge(
        todo - tolerance_g, todo + tolerance_g, todo, f"{over} {OVER_CURE}", f"{under} {SHORT_CURE}"
    )


def device_judge_range(low_g: Decimal, high_g: Decimal, held_g: Decimal) -> DeviceJudge:
    """``judge_range`` for grams to come, where ``held_g`` are in already."""
    fact = RANGE.format(held=BLANK, low=figure(low_g), high=figure(high_g))
    text = f"{fact} {RANGE_CURE}"
    return DeviceJudge(low_g - held_g, high_g - held_g, -held_g, text, text)


def reasons_not_usable(
    facts: LotFacts, day: date, *, lot_of: str, line_of: str, grams: Decimal | None = None
) -> list[Reason]:
    """Every reason why this lot may not be weighed into this line on ``day``; none when it may.

    lot_of, line_of: names of the lot's ingredient and of the line's (or its recorded substitute). grams:
    what is to be taken, None when not known yet; all that is there is not too much.
    """
    found = []
    if lot_of != line_of:
        found.append(Reason("other", f"It is {lot_of}; this line takes {line_of}."))
    found += reasons_against(facts, day)
    if grams is not None and ZERO < facts.on_hand < grams:
        left, short = figure(facts.on_hand), figure(difference(grams, facts.on_hand))
        found.append(Reason("short", f"{left} g are left of it, {short} g less than {figure(grams)} g."))
    return found
