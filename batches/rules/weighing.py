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


def judge(planned_g: Decimal, tolerance_g: Decimal, held_g: Decimal) -> Judged:
    """Compare the grams that a line holds with its plan. At the tolerance is within it."""
    off = held_g - planned_g
    if abs(off) <= tolerance_g:
        return Judged("within", off, f"{figure(held_g)} g is within.")
    over = off > 0
    return Judged(
        "over" if over else "under",
        off,
        f"{figure(abs(off))} g {'over' if over else 'short'}; {figure(tolerance_g)} g is allowed.",
        "Keep it and say why, or take some out and weigh again."
        if over
        else "Weigh the rest, or say why it stays.",
    )


def judge_range(low_g: Decimal, high_g: Decimal, held_g: Decimal) -> Judged:
    """Compare what was added as needed with its range; the ends are within."""
    stated = f"{figure(low_g)} to {figure(high_g)} g"
    if low_g <= held_g <= high_g:
        return Judged("within", Decimal(0), f"{figure(held_g)} g is within {stated}.")
    off = held_g - high_g if held_g > high_g else held_g - low_g
    return Judged(
        "over" if off > 0 else "under", off, f"{figure(held_g)} g; {stated} is the range.", "Say why."
    )


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
