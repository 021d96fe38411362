"""The columns of a spreadsheet, which its heads may tell and otherwise the maker says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from formulas.rules.lettering import letter
from formulas.rules.recipe.sheets import Cell, said

HEADS_WITHIN = 30
SAMPLES = 2
SHOWN = 28


@dataclass(frozen=True, slots=True)
class Column:
    """One column that holds something. words: how a choice names it, by letter, head and what stands below."""

    index: int
    words: str


def columns_of(rows: Sequence[Sequence[Cell]], head: int | None) -> list[Column]:
    """Every column in which something stands below the heads, or in the head itself."""
    found = []
    body = rows[head + 1 :] if head is not None else rows
    for index in range(max((len(row) for row in rows), default=0)):
        title = cell_at(rows[head], index) if head is not None else ""
        below = [text for row in body if (text := cell_at(row, index))]
        if not title and not below:
            continue
        samples = ", ".join(short(text) for text in dict.fromkeys(below[: SAMPLES * 2]))
        called = f"{letter(index)}: {short(title)}" if title else letter(index)
        found.append(Column(index, f"{called} ({short(samples, 2 * SHOWN)})" if samples else called))
    return found


def head_rows(rows: Sequence[Sequence[Cell]]) -> list[tuple[int, str]]:
    """The rows that may hold the heads, each with its first words."""
    found = []
    for number, row in enumerate(rows[:HEADS_WITHIN]):
        texts = [short(said(cell)) for cell in row if said(cell)]
        found.append((number, f"Row {number + 1}: {short(' | '.join(texts), 60)}"))
    return found


def cell_at(row: Sequence[Cell], index: int | None) -> str:
    """What stands in a column; empty where the row ends before it or no column was chosen."""
    return said(row[index]) if index is not None and index < len(row) else ""


def short(text: str, most: int = SHOWN) -> str:
    """The beginning of a text."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
