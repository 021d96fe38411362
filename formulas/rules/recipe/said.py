"""What a line of a recipe says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from formulas.rules.recipe.numbers import Count

LineKind = Literal["line", "heading", "words"]


@dataclass(frozen=True, slots=True)
class Amount:
    """So many of a measure ("" where the line gives a number alone)."""

    count: Count
    unit: str
    typed: str


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
