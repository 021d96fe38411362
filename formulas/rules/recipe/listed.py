"""Numbers with a point in front of lines: they count the lines, or belong to the amount."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from formulas.rules.recipe.said import RecipeLine

_LISTED = re.compile(r"^\s*(\d{1,2})\.\s+(?=\d)")


def is_list(lines: Sequence[str]) -> bool:
    """Whether the numbers with a point in front of figures count the lines: 1, 2, 3."""
    numbers = [int(found.group(1)) for line in lines if (found := re.match(r"^\s*(\d{1,2})\.\s", line))]
    return numbers == list(range(1, len(numbers) + 1))


def unless_listed(line: RecipeLine) -> RecipeLine:
    """Asked where a number and a point stand before a figure and count nothing: "2. 5 g" may be 2.5 g."""
    if line.asks or not _LISTED.match(line.text):
        return line
    return replace(
        line, amounts=(), asks="A number and a point stand before it: one amount, or a count of lines?"
    )
