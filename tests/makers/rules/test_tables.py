"""Reading reference files: every cell as its column says, and a faulty one is named."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Literal

import pytest

from makers.rules.tables import read_cells, read_rows

HEAD = "name,grams,most,count,old,kind,tags,extra\n"


@dataclass(frozen=True)
class Thing:
    """One row."""

    name: str
    mass: Decimal
    most: Decimal | None
    count: int | None
    old: bool
    kind: Literal["wax", "oil"]
    tags: frozenset[str]


@dataclass(frozen=True)
class Dated:
    """A row with a field that no cell is read into."""

    name: date


def file_of(folder: Path, *rows: str) -> Path:
    """A file with these rows under the head."""
    path = folder / "things.csv"
    path.write_text(HEAD + "".join(f"{row}\n" for row in rows), encoding="utf-8")
    return path


def read(path: Path) -> tuple[Thing, ...]:
    """The things in it."""
    return read_rows(path, Thing, {"mass": "grams"})


def test_each_cell_is_read_as_its_field(tmp_path: Path) -> None:
    """Figures exactly, an empty one as not known, yes as true, lists by semicolon, spaces taken off."""
    rows = read(
        file_of(tmp_path, " Wax ,1.50,2.5,3,yes,wax,hard; pale,?", "Oil,0,,,no,oil,,?", "Fat,1,,,,oil,,")
    )

    assert rows == (
        Thing("Wax", Decimal("1.50"), Decimal("2.5"), 3, True, "wax", frozenset({"hard", "pale"})),
        Thing("Oil", Decimal(0), None, None, False, "oil", frozenset()),
        Thing("Fat", Decimal(1), None, None, False, "oil", frozenset()),
    )
    assert str(rows[0].mass) == "1.50"


def test_rows_that_speak_of_something_else_are_left_out_unread(tmp_path: Path) -> None:
    """A file of several kinds of rows is read for one of them."""
    path = file_of(tmp_path, "Oil,1,,,no,oil,,liquid", "Wax,heavy,,,no,wax,,solid")

    assert [row.name for row in read_rows(path, Thing, {"mass": "grams"}, {"extra": "liquid"})] == ["Oil"]


@pytest.mark.parametrize(
    ("row", "column", "cell"),
    [
        ("Wax,heavy,,,no,wax,,", "grams", "heavy"),
        ("Wax,,,,no,wax,,", "grams", ""),
        ("Wax,1,2.5.,,no,wax,,", "most", "2.5."),
        ("Wax,1,,1.5,no,wax,,", "count", "1.5"),
        ("Wax,1,,,perhaps,wax,,", "old", "perhaps"),
        ("Wax,1,,,no,fat,,", "kind", "fat"),
    ],
)
def test_a_cell_that_is_not_of_its_kind_is_named(tmp_path: Path, row: str, column: str, cell: str) -> None:
    """File, row, column and what stands there."""
    path = file_of(tmp_path, "Oil,1,,,no,oil,,", row)

    with pytest.raises(ValueError, match=re.escape(f"things.csv, row 2, {column}: '{cell}'")):
        read(path)


@pytest.mark.parametrize("row", ["Wax,1", "Wax,1,,,no,wax,,,"])
def test_a_row_of_another_length_is_named(tmp_path: Path, row: str) -> None:
    """One cell too few or too many."""
    with pytest.raises(ValueError, match=r"things\.csv, line 2: another number of columns"):
        read_cells(file_of(tmp_path, row))


def test_a_field_that_no_cell_is_read_into_is_a_mistake_of_ours(tmp_path: Path) -> None:
    """It is noticed with the first reading, not with the first row."""
    with pytest.raises(TypeError, match="date"):
        read_rows(file_of(tmp_path), Dated)


def test_a_missing_column_is_a_mistake_of_ours(tmp_path: Path) -> None:
    """The column's name is in what is raised."""
    with pytest.raises(KeyError, match="mass"):
        read_rows(file_of(tmp_path, "Wax,1,,,no,wax,,"), Thing)
