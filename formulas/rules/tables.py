"""Reading the reference files in formulas/data: UTF-8, comma, one header line."""

from __future__ import annotations

import csv
from decimal import Decimal
from pathlib import Path

DATA = Path(__file__).resolve().parent.parent / "data"


def read_table(name: str) -> list[dict[str, str]]:
    """The rows of one file by column. Raises ValueError, naming the line, for a row of another length."""
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file, restkey="", strict=True)
        rows = []
        for row in reader:
            if "" in row or None in row.values():
                raise ValueError(f"{name}, line {reader.line_num}: another number of columns than the header")
            rows.append({column: cell.strip() for column, cell in row.items()})
    return rows


def number_or_none(text: str) -> Decimal | None:
    """A figure with a decimal point; an empty cell is not known."""
    return Decimal(text) if text else None


def whole_or_none(text: str) -> int | None:
    """A whole number; an empty cell is not known."""
    return int(text) if text else None


def words(text: str) -> frozenset[str]:
    """A list with semicolons; an empty cell is an empty list."""
    return frozenset(part.strip() for part in text.split(";") if part.strip())
