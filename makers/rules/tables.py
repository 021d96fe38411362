"""Reading reference files: UTF-8, comma, one header line; each row whole, each cell as its column says."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from dataclasses import fields
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal, TypeVar, get_args, get_origin, get_type_hints

Row = TypeVar("Row")


def read_cells(path: Path) -> list[dict[str, str]]:
    """The rows of one file by column. Raises ValueError, naming the line, for a row of another length."""
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file, restkey="", strict=True)
        rows = []
        for row in reader:
            if "" in row or None in row.values():
                raise ValueError(
                    f"{path.name}, line {reader.line_num}: another number of columns than the header"
                )
            rows.append({column: cell.strip() for column, cell in row.items()})
    return rows


def read_rows(
    path: Path,
    row: type[Row],
    columns: Mapping[str, str] | None = None,
    only: Mapping[str, str] | None = None,
) -> tuple[Row, ...]:
    """The rows of one file, typed. row: a dataclass whose fields are columns; other columns are left out.

    columns: by field, the column where it has another name. only: cells that a row must have, by column; other
    rows are left out unread. Raises ValueError, naming the row and the column, for a cell that is not of its
    field's type.
    """
    hints = get_type_hints(row)
    plan = [
        (one.name, (columns or {}).get(one.name, one.name), reader_for(hints[one.name]))
        for one in fields(row)  # type: ignore[arg-type]  # a dataclass, see above
    ]
    found = []
    for number, cells in enumerate(read_cells(path), start=1):
        if any(cells[column] != text for column, text in (only or {}).items()):
            continue
        values: dict[str, Any] = {}
        for name, column, read in plan:
            try:
                values[name] = read(cells[column])
            except (ValueError, ArithmeticError) as error:
                raise ValueError(f"{path.name}, row {number}, {column}: {cells[column]!r}") from error
        found.append(row(**values))
    return tuple(found)


def reader_for(hint: Any) -> Callable[[str], Any]:
    """What reads a cell into a field of this type. Raises TypeError for a type that no cell holds."""
    if get_origin(hint) is Literal:
        return lambda text: one_of(text, get_args(hint))
    try:
        return READERS[hint]
    except KeyError as error:
        raise TypeError(f"No cell of a reference file holds a {hint}.") from error


def number_or_none(text: str) -> Decimal | None:
    """A figure with a decimal point; an empty cell is not known."""
    return Decimal(text) if text else None


def whole_or_none(text: str) -> int | None:
    """A whole number; an empty cell is not known."""
    return int(text) if text else None


def is_yes(text: str) -> bool:
    """Yes or no; an empty cell is no. Raises ValueError for another word."""
    return one_of(text or "no", ("yes", "no")) == "yes"


def words(text: str) -> frozenset[str]:
    """A list with semicolons; an empty cell is an empty list."""
    return frozenset(part.strip() for part in text.split(";") if part.strip())


def one_of(text: str, known: tuple[str, ...]) -> str:
    """One of some words. Raises ValueError for another."""
    if text not in known:
        raise ValueError(f"{text!r} is none of {', '.join(known)}")
    return text


READERS: Mapping[Any, Callable[[str], Any]] = {
    str: str,
    Decimal: Decimal,
    int: int,
    bool: is_yes,
    Decimal | None: number_or_none,
    int | None: whole_or_none,
    frozenset[str]: words,
}
"""What reads a cell, by the type of its field."""
