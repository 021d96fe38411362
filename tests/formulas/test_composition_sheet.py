"""A composition from the supplier's spreadsheet: file, columns, rows, all or nothing into the editor."""

from __future__ import annotations

import io
from decimal import Decimal
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from openpyxl import Workbook

from formulas.actions.ingredients import add_substance
from formulas.models import Composition, Substance
from makers.actions import By
from makers.models import Maker
from tests.cast import Cast
from tests.formulas.factories_ingredients import make_ingredient
from tests.formulas.pages import page, text_of, url
from tests.formulas.sent import inputs_of

READ = "ingredients/I-001/compositions/read/"
MESSY = (
    "\ufeffMarshlight blend;;;\r\n"
    ";;;\r\n"
    "INCI name;CAS-No.;Content (%);Declared / within\r\n"
    "Aqua (Water);7732-18-5;45 - 55;declared\r\n"
    "GLYCERIN;56-81-5;≥ 40;declared\r\n"
    "Linalool;78-70-6;<0,1;allergen\r\n"
    "Samphire Dew Extract;;q.s.;declared\r\n"
    "Total;;100;\r\n"
    ";;;printed by hand\r\n"
)


def send(client: Client, by: By, content: str | bytes = "", **more: Any) -> str:
    """Send a file, or what the page sends along."""
    data = dict(more)
    if content:
        raw = content.encode() if isinstance(content, str) else content
        data["sheet"] = SimpleUploadedFile("blend.csv", raw)
    response = client.post(url(by, READ), data)
    assert response.status_code == 200, response.status_code
    return text_of(response)


def again(client: Client, by: By, text: str, **more: Any) -> str:
    """Send the page's own form with other answers."""
    return send(client, by, **(inputs_of(text) | more))


def test_a_messy_file_is_shown_row_by_row_and_nothing_is_kept(at_home: Client, by: By) -> None:
    """Names with brackets and capitals are known; the comma, the new name and the total each say what they are."""
    make_ingredient(by)

    text = send(at_home, by, MESSY)

    assert "Did you mean 0.1?" in text
    assert "“Samphire Dew Extract” is not among the substances" in text
    assert "“q.s.” gives no figure: unknown." in text
    assert "45 to 55" in text
    assert "40 or more" in text
    assert "Left out." in text
    assert "1 row without a name or a figure" in text
    assert "2 to answer" in text
    assert not Composition.objects.for_maker(by.maker).exists()
    assert not Substance.objects.filter(maker=by.maker).exists()


def test_all_rows_or_none(at_home: Client, by: By) -> None:
    """Two rows are open: none is taken, each says why. Answered, all stand in the editor and are written there."""
    row = make_ingredient(by)
    text = send(at_home, by, MESSY)

    refused = again(at_home, by, text, do="take")
    assert "No row is taken yet" in refused
    assert not Substance.objects.filter(maker=by.maker).exists()

    answers = {"columns-mark": ",", "row-3-is_own": "on", "do": "take"}
    editor = again(at_home, by, refused, **answers)
    assert "4 rows stand below" in editor
    own = Substance.objects.get(maker=by.maker)
    assert (own.inci_name, own.source) == ("Samphire Dew Extract", "written in blend.csv")
    assert not Composition.objects.for_maker(by.maker).exists()

    response = at_home.post(
        url(by, "ingredients/I-001/compositions/add/"), inputs_of(editor) | {"do": "save"}
    )
    assert response.status_code == 303, text_of(response)
    made = row.compositions.get()
    assert made.origin == "blend.csv"
    assert [
        (str(one.substance), one.kind, one.low, one.typical, one.high)
        for one in made.constituents.order_by("id")
    ] == [
        ("Aqua", "declared", 45, None, 55),
        ("Glycerin", "declared", 40, None, None),
        ("Linalool", "within", None, None, Decimal("0.1")),
        ("Samphire Dew Extract", "declared", None, None, None),
    ]


def test_a_decimal_comma_of_the_maker_is_read(client: Client, at_home: Client, by: By) -> None:
    """The maker's own locale is the first guess; never a factor of ten."""
    make_ingredient(by)
    Maker.objects.filter(pk=by.maker.pk).update(locale="de_DE")

    text = send(at_home, by, "INCI;Max %\nLinalool;0,25\nLimonene;1.5\n", **{"columns-rows_are": "within"})

    assert 'value="0,25"' in text
    assert "Did you mean 1,5?" in text
    assert 'value="15"' not in text


def test_columns_without_heads_are_said_by_the_maker(at_home: Client, by: By) -> None:
    """No guess: the page asks which column is the name, and then reads."""
    make_ingredient(by)
    text = send(at_home, by, "x1,Glycerin,60\nx2,Aqua,40\n")
    assert "Which column holds the names" in text
    assert "C (60, 40)" in text

    text = again(at_home, by, text, **{"columns-name": "1", "columns-percent": "2", "do": "columns"})

    assert "Declared together" in text
    assert "0 to answer" not in text
    assert "2 rows" in text


def test_one_column_is_not_two_things(at_home: Client, by: By) -> None:
    """And a column of shares goes with no others."""
    make_ingredient(by)
    text = send(at_home, by, "INCI,%\nGlycerin,60\n")

    text = again(at_home, by, text, **{"columns-low": "1", "do": "columns"})

    assert "taken for" in text


def test_a_name_and_a_number_that_differ_are_asked(at_home: Client, by: By) -> None:
    """Glycerin under water's CAS number is neither until the maker says which."""
    make_ingredient(by)
    text = send(at_home, by, "INCI,CAS,%\nGlycerin,7732-18-5,100\n")
    assert "the CAS number 7732-18-5 says Aqua" in text

    editor = again(at_home, by, text, **{"row-0-means": "Aqua", "do": "take"})

    assert 'value="Aqua"' in editor.split("<datalist")[0]


def test_an_inci_name_that_stands_for_others_on_labels_is_its_own_substance(at_home: Client, by: By) -> None:
    """Citral is sure; a label name that two go by is asked with a sentence that is true."""
    make_ingredient(by)
    text = send(at_home, by, "INCI,%\nCitral,60\nTocotrienol gold,40\n")

    assert "More than one goes by this name" not in text
    assert "“Citral” is not among" not in text
    assert "“Tocotrienol gold” is not among the substances known here" in text


def test_a_name_that_several_go_by_is_not_called_unknown(at_home: Client, by: By) -> None:
    """It is known, only not which."""
    make_ingredient(by)
    for name in ("Sedge ester A", "Sedge ester B"):
        substance = add_substance(by, inci_name=name, us_name="Sedge ester", source="a supplier")
        assert substance.us_name == "Sedge ester"

    text = send(at_home, by, "INCI,%\nSedge ester,100\n")

    assert "More than one goes by this name. Choose one, or keep it as your own." in text
    assert "is not among the substances" not in text


def test_the_same_substance_twice_is_asked(at_home: Client, by: By) -> None:
    """Left out once, it holds."""
    make_ingredient(by)
    text = send(at_home, by, "INCI,%\nGlycerin,60\nGlycerol,40\n")
    assert "stands 2 times" in text

    assert "1 row stand below" in again(at_home, by, text, **{"row-1-is_out": "on", "do": "take"})


def test_a_share_that_cant_be_read_is_typed_or_called_unknown(at_home: Client, by: By) -> None:
    """An empty answer alone is no answer."""
    make_ingredient(by)
    text = send(at_home, by, "INCI,%\nGlycerin,plenty\nAqua,40\n")
    assert "“plenty” is no share" in text

    assert "No row is taken yet" in again(at_home, by, text, do="take")
    assert "2 rows stand below" in again(at_home, by, text, **{"row-0-is_unknown": "on", "do": "take"})
    assert "2 rows stand below" in again(at_home, by, text, **{"row-0-typical": "60", "do": "take"})


def test_a_workbook_with_percent_cells_and_ppm(at_home: Client, by: By) -> None:
    """0.3 shown as percent is 30 %, also under a head of ppm; 250 is 250 ppm."""
    make_ingredient(by)
    book = Workbook()
    sheet = book.create_sheet("Allergens")
    for row in (("Allergen", "CAS", "ppm"), ("Linalool", "78-70-6", 250), ("Limonene", "5989-27-5", 0.3)):
        sheet.append(row)
    sheet["C3"].number_format = "0%"
    out = io.BytesIO()
    book.save(out)

    text = send(at_home, by, out.getvalue())

    assert "0.025&nbsp;%" in text
    assert "30&nbsp;%" in text


def test_figures_that_make_one_are_doubted_on_the_page(at_home: Client, by: By) -> None:
    """A workbook of fractions says so before anything is taken."""
    make_ingredient(by)

    text = send(at_home, by, "INCI,Share\nGlycerin,0.6\nAqua,0.4\n")
    assert "parts of 1" in text.split("Rows")[-1]

    text = again(at_home, by, text, **{"columns-unit": "fraction", "do": "columns"})
    assert "60&nbsp;%" in text


def test_files_that_are_none_say_what_to_do(at_home: Client, by: By) -> None:
    """No file, an empty one, a locked one, a picture: a sentence each."""
    make_ingredient(by)

    assert "Choose the file that the supplier sent" in send(at_home, by)
    assert "locked Excel file" in send(at_home, by, b"\xd0\xcf\x11\xe0" + b"x" * 64)
    assert "no spreadsheet" in send(at_home, by, b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR")
    assert "can&#x27;t be read" in send(at_home, by, b"PK\x03\x04 nothing in it")
    assert "Choose the file" in send(at_home, by, rows='[["x",["","1e999999999"]]]', called="x")


def test_rows_in_order_give_places(at_home: Client, by: By) -> None:
    """A list without figures becomes an order."""
    make_ingredient(by)
    text = send(at_home, by, "INCI name,\nAqua,\nGlycerin,\n")

    editor = again(at_home, by, text, **{"columns-is_ordered": "on", "do": "take"})

    found = inputs_of(editor)
    assert [found["part-0-rank"], found["part-1-rank"]] == [["1"], ["2"]]
    assert found["part-0-typical"] == [""]


def test_a_file_far_longer_than_a_composition(at_home: Client, by: By) -> None:
    """201 rows: the page says how many fit."""
    make_ingredient(by)
    rows = "\n".join(f"Substance {number},1" for number in range(201))

    assert "201 rows; a composition holds 200" in send(at_home, by, f"INCI,%\n{rows}\n")


def test_the_editor_leads_there(at_home: Client, by: By, cast: Cast) -> None:
    """A link, and a page for anybody who may write."""
    make_ingredient(by)

    assert READ in page(at_home, by, "ingredients/I-001/compositions/add/")
    assert "Spreadsheet" in page(at_home, by, READ)
