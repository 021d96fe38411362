"""Where the reference files of formulas stand, and reading one by its name."""

from __future__ import annotations

from pathlib import Path

from makers.rules.tables import read_cells

DATA = Path(__file__).resolve().parent.parent / "data"


def read_table(name: str) -> list[dict[str, str]]:
    """The rows of one file by column. Raises ValueError, naming the line, for a row of another length."""
    return read_cells(DATA / name)
