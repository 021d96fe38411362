"""Spreadsheets as lines of a recipe."""

from __future__ import annotations

import io
from decimal import Decimal
from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from openpyxl import Workbook

from formulas.forms.sheets import SheetField
from formulas.rules.recipe.heads import read_head
from formulas.rules.recipe.lines import read_recipe
from formulas.rules.recipe.sheets import Cell, Columns, PercentCell, Question, find_columns, sheet_text, told

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


def taken(content: str) -> list[str]:
    """The lines that a file becomes without a question."""
    rows = read(content.encode())
    found = find_columns(rows)
    assert not isinstance(found, Question), found
    return sheet_text(rows, found).splitlines()


def asked(content: str) -> str:
    """What is asked of a file."""
    found = find_columns(read(content.encode()))
    assert isinstance(found, Question), found
    return found.asks


def test_heads_tell_name_amount_and_phase() -> None:
    """Percents and grams that agree are one amount; costs are passed over; a total stays to be seen."""
    rows: list[list[Cell]] = [
        ["Balm of autumn", None],
        ["Phase", "Ingredient", "Weight (g)", "%", "Cost"],
        ["A", "Beeswax", D(60), D("30.0"), D(2)],
        ["A", "Shea butter", D(120), D(60), D(4)],
        ["B", "Jojoba oil", D(20), D(10), D(3)],
        [None, "Total", D(200), D(100), D(9)],
    ]
    columns = find_columns(rows)
    assert isinstance(columns, Columns)

    assert sheet_text(rows, columns).splitlines() == [
        "Phase A", "Beeswax 30 %", "Shea butter 60 %", "Phase B", "Jojoba oil 10 %", "Total 100 %",
    ]  # fmt: skip
    assert told(rows, columns) == (
        "The amounts stand in column D “%”, in %. The same is said in C “Weight (g)”. Not read: E “Cost”."
    )


@pytest.mark.parametrize(
    ("content", "lines"),
    [
        ("Ingredient,Grams,Price per kg\nShea butter,200,11.30", ["Shea butter 200 g"]),
        ("Ingredient;g;€/kg\nShea butter;200;11,30", ["Shea butter 200 g"]),
        ("Ingredient,Amount g,Max use %\nShea butter,200,100", ["Shea butter 200 g"]),
        ("Ingredient,Purity %,g\nShea butter,100,200", ["Shea butter 200 g"]),
        ("Ingredient,Supplier,Cost/100 g,Weight\nWax,Marsh,3.20,200", ["Wax 200"]),
        ("Zutat;Menge (g);Preis je kg;Reinheit %\nWachs;200;11,30;98", ["Wachs 200 g"]),
        ("Ingrédient;Quantité (g);Prix;Pureté %\nCire;200;11,30;98", ["Cire 200 g"]),
        ("Ingrediente;Cantidad g;Precio;% máx.\nCera;200;11,30;5", ["Cera 200 g"]),
        ("Ingredienti;Peso (g);Prezzo;Purezza %\nCera;200;11,30;98", ["Cera 200 g"]),
        ("Ingredient,Stock g,g,Pack size kg\nWax,900,200,25", ["Wax 200 g"]),
        ("Ingredient,lb,oz\nWax,1,4\nOil,0,8\nRosin,,3", ["Wax 1 lb 4 oz", "Oil 0 lb 8 oz", "Rosin 0 lb 3 oz"]),
        ("Ingredient,oz,lb\nWax,4,1", ["Wax 1 lb 4 oz"]),
        ("Ingredient,%,g for 500 g\nWax,60,300\nOil,40,200", ["Wax 60 %", "Oil 40 %"]),
        ("Ingredient,kg,oz\nWax,1,35.27\nOil,0.5,17.64", ["Wax 1 kg", "Oil 0.5 kg"]),
        ("Ingredient,g,ml\nWax,20,\nWater,,30", ["Wax 20 g", "Water 30 ml"]),
        ("Ingredient,Amount,Unit,Cost\nWax,200,g,3\nWater,1,cup,0", ["Wax 200 g", "Water 1 cup"]),
        ("Ingredient,%,g\nWax,50,\nOil,50,", ["Wax 50 %", "Oil 50 %"]),
        ("Ingredient,%\nWax,50\nIngredient,%\nOil,50", ["Wax 50 %", "Oil 50 %"]),
        ("Name,Balm 500 g\nIngredient,%\nWax,100", ["Wax 100 %"]),
    ],
)  # fmt: skip
def test_one_column_is_the_amount(content: str, lines: list[str]) -> None:
    """A price, a limit, a purity, a stock are none; pounds and ounces are one; what agrees is one said twice."""
    assert taken(content) == lines


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("Ingredient,g,g scaled to 1 kg\nShea butter,200,800", "2 columns may be the amount: B “g”, C “g scaled"),
        ("Ingredient,%,g\nWax,60,100\nOil,40,100", "2 columns may be the amount"),
        ("Ingredient,%,g\nWax,30,60\nOil,20,40", "2 columns may be the amount"),
        ("Ingredient,g,ml\nOil,10,9\nWater,10,10", "2 columns may be the amount"),
        ("Ingredient,lb,oz\nWax,1,15.9", "2 columns may be the amount"),
        ("Ingredient,lb,oz\nWax,1.5,4", "2 columns may be the amount"),
        ("Ingredient,% of oils\nWax,3", "1 column may be the amount: B “% of oils”"),
        ("Ingredient,Max use %,Price per kg\nWax,3,9", "No head says which column holds the amounts"),
        ("Ingredient,Trial A,Trial B\nWax,3,9", "No head says which column holds the amounts"),
        ("Ingredient,Amount,Price,Unit\nWax,3,9,kg", "1 column may be the amount"),
        ("Ingredient,Amount g,Unit\nWax,3,kg", "1 column may be the amount"),
        ("Wax,200,11.30\nOil,100,4", "2 columns hold figures"),
        ("Fat,Max use %\nWax,50%\nOil,50%", "1 column holds figures"),
        ("Ingredient,%,g\nWax,50,1\nIngredient,g,%\nOil,10,2", "Rows 1 and 3 hold different heads"),
    ],
)  # fmt: skip
def test_what_is_not_certain_is_asked(content: str, words: str) -> None:
    """Two that don't agree, or none: no column is taken."""
    assert words in asked(content)


def test_pounds_and_ounces_come_to_one_weight_and_a_minus_is_asked() -> None:
    """1 lb 4 oz is 1.25 lb; less than nothing is no amount; a fraction ends no number of a name."""
    lines = read_recipe("\n".join(taken("Ingredient,lb,oz\nWax,1,4\nOil,,8")))
    assert [(one.amounts[0].count.low, one.amounts[0].unit, one.asks) for one in lines] == [
        (Fraction(5, 4), "lb", ""),
        (Fraction(1, 2), "lb", ""),
    ]
    below = "\n".join(taken("Ingredient,g\nWax,-5") + taken("Wax,-5,g"))
    assert all("A minus" in one.asks for one in read_recipe(below))
    assert read_recipe(taken("Ingredient,oz\nOil 5,1/2")[0])[0].asks


@pytest.mark.parametrize(
    ("kind", "heads"),
    [
        ("sure", "g|Grams|Weight (g)|% w/w|wt%|Gew.-%|Percent by weight|% of total|Batch weight (g)|Menge in g|fl. oz"),
        ("unsure", "Use %|Trial 2 g|Dosage %|g and ml|Vol %"),
        ("never", "Weight/kg|£|Einkaufspreis|Prix g|Coût|Höchstmenge %|Grenzwert %|Limite %|Gehalt %|Teneur %|Assay %"
                  "|Strength %|% active|Lagerbestand kg|On hand g|Packungsgröße g|Density|CAS|Temp °C|Recommended %"
                  "|g per batch|Menge pro 100 g|Usage level %|HLB|Minimum %"),
        ("other", "Supplier||Winter|Phase"),
    ],
)  # fmt: skip
def test_what_heads_say(kind: str, heads: str) -> None:
    """By their words alone; a word that isn't known is never sure."""
    assert {head: read_head(head).kind for head in heads.split("|")} == dict.fromkeys(heads.split("|"), kind)


def test_without_heads_cells_stand_side_by_side() -> None:
    """Nothing is left out."""
    rows: list[list[Cell]] = [["Beeswax", D("30.50"), "g"], [None, None], ["Melt it."]]

    assert find_columns(rows) is None
    assert sheet_text(rows, None) == "Beeswax 30.5 g\nMelt it."


def test_a_workbook_is_read_exactly_and_a_figure_shown_as_percent_is_one() -> None:
    """0.1 is no 0.1000000000000000055; 0.305 shown as percent is 30.5 %."""
    rows = read(xlsx(("Ingredient", "%"), ("Wax", 0.305), ("Oil", 0.1), formats={"B2": "0.0%"}))

    assert rows[1:] == [["Wax", D("30.5")], ["Oil", D("0.1")]]
    assert isinstance(rows[1][1], PercentCell)
    columns = find_columns(rows)
    assert isinstance(columns, Columns)
    assert sheet_text(rows, columns) == "Wax 30.5 %\nOil 0.1 %"


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
