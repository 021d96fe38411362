"""Judging a weighing against its plan."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from formulas.rules.number import figure

Verdict = Literal["within", "over", "under"]


@dataclass(frozen=True, slots=True)
class Judged:
    """What a line holds against its plan; ``off_g`` is signed."""

    verdict: Verdict
    off_g: Decimal
    text: str


def judge(planned_g: Decimal, tolerance_g: Decimal, held_g: Decimal) -> Judged:
    """Compare the grams that a line holds with its plan. At the tolerance is within it."""
    off = held_g - planned_g
    if abs(off) <= tolerance_g:
        return Judged("within", off, f"{figure(held_g)} is within.")
    words = "over" if off > 0 else "short"
    cure = (
        "Keep it and say why, or take some out and weigh again." if off > 0 else "Weigh the rest, or say why it stays."
    )
    return Judged(
        "over" if off > 0 else "under",
        off,
        f"{figure(abs(off))} g {words}; {figure(tolerance_g)} g is allowed. {cure}",
    )


def judge_range(low_g: Decimal, high_g: Decimal, held_g: Decimal) -> Judged:
    """Compare what was added as needed with its range; the ends are within."""
    if low_g <= held_g <= high_g:
        return Judged("within", Decimal(0), f"{figure(held_g)} is within {figure(low_g)} to {figure(high_g)} g.")
    off = held_g - high_g if held_g > high_g else held_g - low_g
    verdict: Verdict = "over" if off > 0 else "under"
    return Judged(verdict, off, f"{figure(held_g)} g; {figure(low_g)} to {figure(high_g)} g is the range. Say why.")
