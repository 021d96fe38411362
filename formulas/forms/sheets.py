"""Uploaded spreadsheets as rows of cells: CSV in the usual encodings, XLSX. Told by content, never by name."""

from __future__ import annotations

import csv
import io
import json
import re
import zipfile
from collections import Counter
from decimal import Decimal
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from formulas.rules.recipe.sheets import Cell, PercentCell

MOST_BYTES = 2_000_000
MOST_UNPACKED = 50_000_000
MOST_ROWS, MOST_COLUMNS = 1000, 40
MOST_KEPT = 600_000
"""Characters of rows that a page carries from one step to the next."""
UNREADABLE = "This spreadsheet can't be read. Save it anew as XLSX or CSV."


class SheetField(forms.FileField):
    """A CSV or XLSX file. Cleaned value: rows of cells, or None when nothing was chosen."""

    widget: Any = forms.FileInput(attrs={"accept": ".csv,.xlsx,.txt"})

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("help_text", f"CSV or XLSX, {MOST_BYTES // 1_000_000} MB at most.")
        super().__init__(**kwargs)

    def to_python(self, data: Any) -> Any:
        """Read the file. Raises ValidationError with a sentence that says what to do."""
        if data in self.empty_values or not isinstance(data, UploadedFile):
            return None
        if (data.size or 0) > MOST_BYTES:
            raise forms.ValidationError(
                f"The file is larger than {MOST_BYTES // 1_000_000} MB. Leave out the rest."
            )
        content = data.read()
        if not content.strip(b"\x00\r\n\t "):
            raise forms.ValidationError("This file is empty.")
        if content.startswith(b"PK\x03\x04"):
            return xlsx_rows(content)
        if content.startswith(b"\xd0\xcf\x11\xe0"):
            raise forms.ValidationError(
                "An old or locked Excel file. Save it as XLSX without a password, or as CSV."
            )
        return csv_rows(text_of(content))


class RowsField(forms.CharField):
    """Rows that were read from a file, carried by the page to its next step. Cleaned value: rows, [] for none."""

    widget: Any = forms.HiddenInput

    def to_python(self, value: Any) -> Any:
        """Rows of cells. What no page of ours wrote counts as none."""
        if value in self.empty_values or len(str(value)) > MOST_KEPT:
            return []
        try:
            rows = [[kept_cell(cell) for cell in row] for row in json.loads(str(value))]
        except (ValueError, TypeError, RecursionError):
            return []
        return rows if len(rows) <= MOST_ROWS and all(len(row) <= MOST_COLUMNS for row in rows) else []

    def prepare_value(self, value: Any) -> Any:
        """Rows as text; a text as it came."""
        return carried(value) if isinstance(value, list) else value


def carried(rows: list[list[Cell]]) -> str:
    """Rows as the text that ``RowsField`` reads: texts as they are, figures in a list of their own."""
    return json.dumps(
        [
            [
                ["%" if isinstance(cell, PercentCell) else "", f"{cell:f}"]
                if isinstance(cell, Decimal)
                else cell
                for cell in row
            ]
            for row in rows
        ],
        ensure_ascii=False,
        separators=(",", ":"),
    )


def too_much(rows: list[list[Cell]]) -> str:
    """Why rows can't be carried to a next step; empty where they can."""
    if len(carried(rows)) <= MOST_KEPT:
        return ""
    return "There is far more text in this file than a composition or a recipe has. Leave out the rest."


def kept_cell(cell: Any) -> Cell:
    """A cell as ``carried`` wrote it. Raises ValueError or TypeError for anything else."""
    if cell is None or isinstance(cell, str):
        return cell
    mark, figure = cell
    if not re.fullmatch(r"-?\d{1,320}(?:\.\d{1,340})?", figure, re.ASCII):
        raise ValueError("no figure")
    return PercentCell(figure) if mark == "%" else Decimal(figure)


def text_of(content: bytes) -> str:
    """Text in the encoding that its first bytes tell, else UTF-8, else Windows' western one."""
    for mark, name in ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if content.startswith(mark):
            return content.decode(name, errors="replace")
    if b"\x00" in content:
        raise forms.ValidationError("This is no spreadsheet. Choose a CSV or XLSX file.")
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def csv_rows(text: str) -> list[list[Cell]]:
    """Rows of a CSV file, whatever parts its columns."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n")
    try:
        found = [
            [cell or None for cell in row]
            for row in csv.reader(io.StringIO(lines), delimiter=delimiter_of(lines))
        ]
    except csv.Error as problem:
        raise forms.ValidationError(UNREADABLE) from problem
    return bounded([list[Cell](row) for row in found])


def delimiter_of(text: str) -> str:
    """The mark that parts most lines into the same number of cells; a comma where none does."""
    lines = [line for line in text.split("\n")[:50] if line.strip()]
    best, most = ",", (0, 0)
    for mark in ("\t", ";", "|", ","):
        counts = Counter(line.count(mark) for line in lines if mark in line)
        if counts and (score := (counts.most_common(1)[0][1], sum(counts.values()))) > most:
            best, most = mark, score
    return best


def xlsx_rows(content: bytes) -> list[list[Cell]]:
    """Rows of the first sheet that holds anything; a figure shown as percent is written as one."""
    from openpyxl import load_workbook  # takes a while to import, and few pages need it

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if sum(part.file_size for part in packed.infolist()) > MOST_UNPACKED:
                raise forms.ValidationError("The file unpacks to far more than a recipe. Leave out the rest.")
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        for sheet in book.worksheets:
            rows = [
                [cell_of(cell) for cell in row]
                for row in sheet.iter_rows(max_row=MOST_ROWS + 1, max_col=MOST_COLUMNS)
            ]
            if any(any(row) for row in rows):
                return bounded(rows)
    except forms.ValidationError:
        raise
    except Exception as problem:  # broken files make the library raise anything
        raise forms.ValidationError(UNREADABLE) from problem
    raise forms.ValidationError("No sheet of this file holds anything.")


def cell_of(cell: Any) -> Cell:
    """A cell's text or figure. Exact as shown by the shortest figure that means the same binary number."""
    value = cell.value
    if isinstance(value, bool) or value is None:
        return None if value is None else str(value)
    if isinstance(value, int | float):
        exact = Decimal(repr(value))
        if not exact.is_finite():
            return None
        return PercentCell(exact * 100) if "%" in str(cell.number_format) else exact
    return str(value)


def bounded(rows: list[list[Cell]]) -> list[list[Cell]]:
    """The rows that hold something. Raises ValidationError for more than a recipe can have."""
    kept = []
    for row in rows:
        held = [number for number, cell in enumerate(row[:MOST_COLUMNS], 1) if cell not in (None, "")]
        if held:
            kept.append(row[: held[-1]])
    if len(kept) > MOST_ROWS:
        raise forms.ValidationError(f"More than {MOST_ROWS} rows. Leave out what isn't the recipe.")
    return kept
