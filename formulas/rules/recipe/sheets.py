"""A spreadsheet's rows as lines of a recipe: the columns for name, amount and phase, where its heads tell them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal


class PercentCell(Decimal):
    """A figure that its spreadsheet shows as percent, in percent."""


Cell = str | Decimal | None
NAME_HEADS = (
    "ingredient",
    "raw material",
    "material",
    "component",
    "name",
    "trade name",
    "inci name",
    "inci",
)
PHASE_HEADS = ("phase", "part", "stage")
UNIT_HEADS: tuple[tuple[str, str], ...] = (
    (r"%|\bper ?cent\b|\bpercentage\b|\bw/w\b", "%"),
    (r"\bkg\b|\bkilograms?\b", "kg"),
    (r"\bg\b|\bgrams?\b|\bgrammes?\b", "g"),
    (r"\boz\b|\bounces?\b", "oz"),
    (r"\bml\b|\bmillilit(?:re|er)s?\b", "ml"),
)
"""What a head says of the figures below it, the surest first: percents before grams of some batch."""

_NUMBER = re.compile(r"[\d.,]*\d[\d.,]*\s*%?")
HEADS_WITHIN = 30


@dataclass(frozen=True, slots=True)
class Columns:
    """Where the heads stand and what they say; unit is of the amount's column."""

    row: int
    name: int
    amount: int
    unit: str
    phase: int | None = None


def sheet_text(rows: Sequence[Sequence[Cell]]) -> str:
    """The rows as text, a line each. Without heads that tell, every row's cells stand side by side."""
    columns = find_columns(rows)
    if columns is None:
        return "\n".join(line for row in rows if (line := " ".join(said(cell) for cell in row if said(cell))))
    lines: list[str] = []
    phase = ""
    for row in rows[columns.row + 1 :]:
        name, amount = at(row, columns.name), at(row, columns.amount)
        if columns.phase is not None and (own := at(row, columns.phase)) and own != phase:
            phase = own
            lines.append(own if own.casefold().startswith(PHASE_HEADS) else f"Phase {own}")
        if not name and not amount:
            if rest := " ".join(said(cell) for cell in row if said(cell) and said(cell) != phase):
                lines.append(rest)
            continue
        with_unit = f"{amount} {columns.unit}" if _NUMBER.fullmatch(amount) and "%" not in amount else amount
        lines.append(" ".join(part for part in (name, with_unit) if part))
    return "\n".join(lines)


def find_columns(rows: Sequence[Sequence[Cell]]) -> Columns | None:
    """The heads, among the first rows; None where no row names both an ingredient and a measure."""
    for number, row in enumerate(rows[:HEADS_WITHIN]):
        heads = [said(cell).casefold() for cell in row]
        names = [heads.index(head) for head in NAME_HEADS if head in heads]
        amounts = [
            (index, unit)
            for pattern, unit in UNIT_HEADS
            for index, head in enumerate(heads)
            if index not in names and len(head) <= 30 and re.search(pattern, head)
        ]
        if names and amounts:
            phase = next((heads.index(head) for head in PHASE_HEADS if head in heads), None)
            return Columns(number, names[0], *amounts[0], phase)
    return None


def at(row: Sequence[Cell], index: int) -> str:
    """What stands in a column; empty where the row ends before it."""
    return said(row[index]) if index < len(row) else ""


def said(cell: Cell) -> str:
    """A cell as text in one line."""
    if cell is None:
        return ""
    if isinstance(cell, PercentCell):
        return f"{cell.normalize():f} %"
    return f"{cell.normalize():f}" if isinstance(cell, Decimal) else " ".join(cell.split())
