"""Spreadsheets as lines of a recipe."""

from __future__ import annotations

import io
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from openpyxl import Workbook

from formulas.forms.sheets import SheetField
from formulas.rules.recipe.sheets import Cell, PercentCell, sheet_text

D = Decimal


def read(content: bytes) -> list[list[Cell]]:
    """As the form reads it."""
    rows: list[list[Cell]] = SheetField().clean(SimpleUploadedFile("recipe", content))
    return rows


def xlsx(*rows: tuple[object, ...], formats: dict[str, str] | None = None) -> bytes:
    """A workbook with an empty sheet before the one that holds the rows."""
    book = Workbook()
    sheet = book.create_sheet("Balm")
    for row in rows:
        sheet.append(row)
    for cell, shown in (formats or {}).items():
        sheet[cell].number_format = shown
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_heads_tell_name_amount_and_phase() -> None:
    """Percents before grams; costs are passed over; a total stays to be seen."""
    rows: list[list[Cell]] = [
        ["Balm of autumn", None],
        ["Phase", "Ingredient", "Weight (g)", "%", "Cost"],
        ["A", "Beeswax", D(60), D("30.0"), D(2)],
        ["A", "Shea butter", D(120), D(60), D(4)],
        ["B", "Jojoba oil", D(20), D(10), D(3)],
        [None, "Total", D(200), D(100), D(9)],
    ]

    assert sheet_text(rows).splitlines() == [
        "Phase A", "Beeswax 30 %", "Shea butter 60 %", "Phase B", "Jojoba oil 10 %", "Total 100 %",
    ]  # fmt: skip


def test_without_heads_cells_stand_side_by_side() -> None:
    """Nothing is left out."""
    assert (
        sheet_text([["Beeswax", D("30.50"), "g"], [None, None], ["Melt it."]]) == "Beeswax 30.5 g\nMelt it."
    )


def test_a_workbook_is_read_exactly_and_a_figure_shown_as_percent_is_one() -> None:
    """0.1 is no 0.1000000000000000055; 0.305 shown as percent is 30.5 %."""
    rows = read(xlsx(("Ingredient", "%"), ("Wax", 0.305), ("Oil", 0.1), formats={"B2": "0.0%"}))

    assert rows[1:] == [["Wax", D("30.5")], ["Oil", D("0.1")]]
    assert isinstance(rows[1][1], PercentCell)
    assert sheet_text(rows) == "Wax 30.5 %\nOil 0.1 %"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_csv_in_the_usual_encodings(encoding: str, mark: str) -> None:
    """Whatever parts the columns."""
    text = f"Ingredient{mark}g\r\nÄpfel oil{mark}3.5\rWax{mark}2\n"

    assert read(text.encode(encoding)) == [["Ingredient", "g"], ["Äpfel oil", "3.5"], ["Wax", "2"]]


@pytest.mark.parametrize(
    "content",
    [b" \n", b"PK\x03\x04 broken", b"\xd0\xcf\x11\xe0", b"x\x00y", b"a,b\n" * 1001, b"x" * 2_000_001, xlsx()],
)
def test_what_is_no_recipe_is_refused_in_words(content: bytes) -> None:
    """Nothing breaks."""
    with pytest.raises(ValidationError):
        read(content)
