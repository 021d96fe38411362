"""What a line of a recipe says."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from formulas.rules.recipe.numbers import Count

LAST_FIGURE = Fraction(1, 2)
"""Half of the last figure written: so far a rounded number may be off."""

LineKind = Literal["line", "heading", "words"]


@dataclass(frozen=True, slots=True)
class Amount:
    """So many of a measure ("" where the line gives a number alone)."""

    count: Count
    unit: str
    typed: str

    @property
    def off_by(self) -> Fraction:
        """By how much the number may have been rounded, in its own measure: "4.2" by 0.05, "3 1/2" by a quarter."""
        if under := re.search(r"\d/(\d+)", self.typed):
            return LAST_FIGURE / int(under.group(1))
        decimals = re.match(r"\D*\d+[.,](\d+)", self.typed)
        return LAST_FIGURE / 10 ** len(decimals.group(1)) if decimals else LAST_FIGURE


@dataclass(frozen=True, slots=True)
class RecipeLine:
    """What one line says.

    number: of the line in the text, from 1. amounts: to be added up; several only where the line says "plus".
    asks: what has to be answered before the line counts; may_mean: measures that would answer it. both: a percent
    and a mass side by side, which only the other lines can tell apart from a strength and an amount. whole: what
    the recipe comes to altogether, where a line that takes the rest says it.
    """

    number: int
    text: str
    kind: LineKind
    name: str = ""
    amounts: tuple[Amount, ...] = ()
    is_rest: bool = False
    asks: str = ""
    may_mean: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    both: tuple[Amount, Amount] | None = None
    whole: Amount | None = None
