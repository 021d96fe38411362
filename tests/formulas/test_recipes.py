"""A recipe from elsewhere, pasted on the page, becomes a draft in percent, or says what is open."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from formulas.actions.ingredients import add_ingredient
from formulas.models import Formula, Ingredient
from makers.actions import By
from makers.models import Maker
from tests.cast import Cast
from tests.formulas.factories_ingredients import make_composition, make_ingredient, part
from tests.formulas.sent import inputs_of

pytestmark = pytest.mark.django_db
D = Decimal
BALM = """Winter balm

Phase A: fats
60 g shea butter
30 g beeswax
Melt together at 75 C.
Phase B
10 g jojoba oil
Stir until cloudy."""
HEAD = {"name": "Winter balm", "form": "balm", "kind": "leave-on", "body_area": "hands"}


def send(client: Client, maker: Maker, text: str, *, do: str = "write", lines: Any = (), **more: str) -> Any:
    """Send the page's form. lines: (number, its text, field, value)."""
    data = {"text": text, "region": "metric", "do": do, **HEAD, **more}
    for number, typed, field, value in lines:
        data[f"line-{number}-typed"] = typed
        data[f"line-{number}-{field}"] = value
    return client.post(f"/{maker.slug}/formulas/read/", data)


def said(answer: Any, number: int) -> dict[str, list[str]]:
    """The sentences beside one line, by field."""
    for one in answer.context["shown"]:
        if one.row.line.number == number:
            return dict(one.form.errors)
    raise AssertionError(f"no line {number}")


def test_reading_keeps_nothing(at_home: Client, maker: Maker) -> None:
    """The table shows grams and percents; no formula, no ingredient."""
    answer = send(at_home, maker, BALM.replace("Winter balm", ""), do="read")

    text = answer.content.decode()
    assert answer.status_code == 200
    assert "60.00" in text
    assert "Together" in text
    assert not Formula.objects.for_maker(maker).exists()
    assert not Ingredient.objects.for_maker(maker).exists()


def test_a_recipe_in_grams_becomes_a_draft(at_home: Client, maker: Maker) -> None:
    """Percents make 100, headings are phases, sentences steps; the text stays; the catalogue's are copied."""
    text = BALM.replace("Winter balm\n\n", "")
    answer = send(at_home, maker, text)

    assert answer.status_code == 303, [one.form and one.form.errors for one in answer.context["shown"]]
    formula = Formula.objects.for_maker(maker).get()
    version = formula.versions.get()
    lines = [(line.phase.letter, line.ingredient.name.lower(), line.percent) for line in version.lines.all()]
    assert lines == [("A", "shea butter", D(60)), ("A", "beeswax", D(30)), ("B", "jojoba oil", D(10))]
    assert [(step.phase and step.phase.letter, step.text) for step in version.steps.all()] == [
        ("A", "Melt together at 75 C."),
        ("B", "Stir until cloudy."),
    ]
    assert version.phases.first().name == "fats"
    assert formula.read_from.splitlines() == text.splitlines()
    assert Ingredient.objects.for_maker(maker).count() == 3


def test_the_title_asks_until_it_is_left_out(at_home: Client, maker: Maker) -> None:
    """A short line without an amount may be an ingredient."""
    answer = send(at_home, maker, BALM)
    assert "If it is the title" in str(said(answer, 1))
    assert not Formula.objects.for_maker(maker).exists()

    again = send(at_home, maker, BALM, lines=[(1, "Winter balm", "is_out", "on")])
    assert again.status_code == 303


def test_thirds_still_make_100(at_home: Client, maker: Maker) -> None:
    """Three equal lines: the last figure is shared out."""
    assert send(at_home, maker, "10 g beeswax\n10 g shea butter\n10 g jojoba oil").status_code == 303

    percents = Formula.objects.for_maker(maker).get().versions.get().lines.values_list("percent", flat=True)
    assert sum(percents, D(0)) == 100


def test_percents_stand_as_they_are_and_one_line_takes_the_rest(at_home: Client, maker: Maker) -> None:
    """No gram is needed."""
    assert send(at_home, maker, "Water to 100%\n3,5 % glycerin", region="us").status_code == 303

    lines = Formula.objects.for_maker(maker).get().versions.get().lines
    assert {(line.kind, line.percent) for line in lines.all()} == {("to_100", None), ("percent", D("3.5"))}


def test_a_near_name_is_offered_and_the_makers_own_is_taken(at_home: Client, maker: Maker, by: By) -> None:
    """ "lavender" could be two things; typed out it is the maker's own."""
    add_ingredient(by, name="Lavender oil")
    text = "90 g jojoba oil\n10 g lavender"
    answer = send(at_home, maker, text)
    assert "Choose what it means" in str(said(answer, 2))
    assert "Lavender oil" in answer.content.decode()

    assert send(at_home, maker, text, lines=[(2, "10 g lavender", "name", "lavender OIL")]).status_code == 303
    assert Ingredient.objects.for_maker(maker).filter(name__iexact="lavender oil").count() == 1


def test_a_name_nobody_knows_can_be_new(at_home: Client, maker: Maker) -> None:
    """Once ticked; before that nothing is written, and nothing typed is lost."""
    text = "90 g jojoba oil\n10 g tide dust"
    line = (2, "10 g tide dust", "name", "Tide dust")
    answer = send(at_home, maker, text, lines=[line])
    assert "neither among yours nor in the catalogue" in str(said(answer, 2))
    assert "Tide dust" in answer.content.decode()
    assert not Ingredient.objects.for_maker(maker).exists()

    assert send(at_home, maker, text, lines=[line, (2, line[1], "is_new", "on")]).status_code == 303
    assert Ingredient.objects.for_maker(maker).filter(name="Tide dust").exists()


def test_drops_are_weighed_before_they_are_written(at_home: Client, maker: Maker) -> None:
    """An interval never becomes one figure by itself."""
    text = "100 g jojoba oil\n10 drops lavender oil"
    answer = send(at_home, maker, text)
    assert "two ends" in str(said(answer, 2))
    assert " to " in answer.content.decode()

    typed = "10 drops lavender oil"
    weighed = [(2, typed, "name", "lavender oil"), (2, typed, "grams", "0.3")]
    assert send(at_home, maker, text, lines=weighed).status_code == 303


def test_ounces_of_an_oil_are_asked_and_an_answer_is_taken(at_home: Client, maker: Maker) -> None:
    """By weight: 28.35 g each; both lines are the same, so each is half."""
    text = "2 oz jojoba oil\n2 oz beeswax"
    answer = send(at_home, maker, text)
    assert "fluid ounces" in str(said(answer, 1))

    typed = "2 oz jojoba oil"
    good = send(at_home, maker, text, lines=[(1, typed, "name", "jojoba oil"), (1, typed, "meant", "oz")])
    assert good.status_code == 303
    lines = Formula.objects.for_maker(maker).get().versions.get().lines.all()
    assert [line.percent for line in lines] == [D(50), D(50)]


def test_an_answer_to_a_line_that_was_changed_since_is_not_taken(at_home: Client, maker: Maker) -> None:
    """The grams were of another line."""
    answer = send(
        at_home, maker, "90 g jojoba oil\n5 drops clove bud oil", lines=[(2, "9 drops mint", "grams", "3")]
    )

    assert "two ends" in str(said(answer, 2))


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "Write or paste the recipe here"), ("Melt well.", "no line in it"),
     ("50 g beeswax\nwater to 100%", "whole weigh"),
     ("2 parts beeswax\n3 g shea butter", "Parts stand beside"), ("x\n" * 201, "More than 200 lines")],
)  # fmt: skip
def test_what_stands_in_the_way_is_said(at_home: Client, maker: Maker, text: str, words: str) -> None:
    """In words, with the text still there."""
    answer = send(at_home, maker, text)

    assert answer.status_code == 200
    assert words in str(answer.context["form"].errors)
    assert not Formula.objects.for_maker(maker).exists()


def test_a_spreadsheet_is_read_like_a_text(at_home: Client, maker: Maker) -> None:
    """Its rows stand in the text, to be changed; the second sending needs no file."""
    sheet = SimpleUploadedFile(
        "balm.csv", b"Phase;Ingredient;%;Cost\nA;Beeswax;30,5;2\nB;Shea butter;69,5;3\n"
    )
    answer = at_home.post(f"/{maker.slug}/formulas/read/", {"region": "metric", "do": "read", "sheet": sheet})

    text = answer.context["form"]["text"].value()
    assert text == "Phase A\nBeeswax 30,5 %\nPhase B\nShea butter 69,5 %"
    assert send(at_home, maker, text).status_code == 303
    lines = Formula.objects.for_maker(maker).get().versions.get().lines.all()
    assert [(line.phase.letter, line.percent) for line in lines] == [("A", D("30.5")), ("B", D("69.5"))]


ASKED = b"Ingredient,g,g scaled to 1 kg\nShea butter,200,800\nBeeswax,50,200\n"


def upload(client: Client, maker: Maker, content: bytes, **more: str) -> Any:
    """Send a file with the page's form."""
    data = {"region": "metric", "do": "read", "sheet": SimpleUploadedFile("balm.csv", content), **more}
    return client.post(f"/{maker.slug}/formulas/read/", data)


def again(client: Client, maker: Maker, answer: Any, **more: str) -> Any:
    """Send the page's own form as a browser would, with other answers."""
    return client.post(f"/{maker.slug}/formulas/read/", inputs_of(answer.content.decode()) | more)


def test_two_columns_that_may_be_the_amount_are_asked_and_nothing_is_lost(
    at_home: Client, maker: Maker
) -> None:
    """The typed text and the rows stay until a column is chosen; then its figures are read, and it says so."""
    asked = upload(at_home, maker, ASKED, text="5 g wax", total="120", region="us")
    page = asked.content.decode()
    assert "2 columns may be the amount: B “g”, C “g scaled to 1 kg”." in page
    assert "shown" not in asked.context
    assert asked.context["form"]["text"].value() == "5 g wax"

    open_still = again(at_home, maker, asked, do="columns")
    assert "Which column goes in?" in open_still.content.decode()
    for do in ("read", "write"):
        assert "shown" not in again(at_home, maker, open_still, do=do).context
    assert not Formula.objects.for_maker(maker).exists()

    answer = again(at_home, maker, open_still, **{"columns-amount": "1", "do": "columns"})
    form = answer.context["form"]
    assert form["text"].value() == "Shea butter 200 g\nBeeswax 50 g"
    assert (form["region"].value(), form["total"].value()) == ("us", "120")
    assert (
        "The amounts stand in column B “g”, in g. Not read: C “g scaled to 1 kg”." in answer.content.decode()
    )

    written = again(at_home, maker, answer, do="write", **{**HEAD, "total": ""})
    assert written.status_code == 303, written.content.decode()
    lines = Formula.objects.for_maker(maker).get().versions.get().lines.all()
    assert [line.percent for line in lines] == [D(80), D(20)]


def test_a_chosen_column_without_a_measure_asks_for_it(at_home: Client, maker: Maker) -> None:
    """Its head speaks of two; the maker says grams."""
    asked = upload(at_home, maker, ASKED)
    answer = again(at_home, maker, asked, **{"columns-amount": "2", "do": "columns"})
    assert "800 of what?" in answer.content.decode()
    assert "shown" not in answer.context

    answer = again(at_home, maker, answer, **{"columns-unit": "g", "do": "read"})
    assert answer.context["form"]["text"].value() == "Shea butter 800 g\nBeeswax 200 g"


def test_a_sheet_can_be_left_out_and_its_columns_chosen_anew(at_home: Client, maker: Maker) -> None:
    """The text that was typed is read; a column that was taken from its head can be changed for another."""
    asked = upload(at_home, maker, ASKED, text="5 g beeswax")
    left = again(at_home, maker, asked, do="leave")
    assert [one.row.line.name for one in left.context["shown"]] == ["beeswax"]
    assert left.context["form"].columns is None

    read = upload(at_home, maker, b"Ingredient,Grams,Price per kg\nShea butter,200,11.30\n")
    assert "Not read: C “Price per kg”." in read.content.decode()
    changed = again(at_home, maker, read, text="Shea butter 210 g", **{"columns-amount": "2", "do": "read"})
    assert changed.context["form"]["text"].value() == "Shea butter 210 g"
    assert "column B “Grams”" in changed.content.decode()
    same = again(at_home, maker, changed, **{"columns-amount": "2", "columns-name": "2", "do": "columns"})
    assert "taken for “Ingredient” already" in same.content.decode()
    assert same.context["form"]["text"].value() == "Shea butter 210 g"


def test_pounds_with_ounces_are_chosen_together_where_heads_do_not_tell(
    at_home: Client, maker: Maker
) -> None:
    """A column added to the amount; without heads each figure's measure is asked."""
    asked = upload(at_home, maker, b"Ingredient,lb,oz,g\nBeeswax,1,4,\nShea butter,2,0,9\n")
    answer = again(at_home, maker, asked, **{"columns-amount": "1", "columns-added": "2", "do": "columns"})

    assert answer.context["form"]["text"].value() == "Beeswax 1 lb 4 oz\nShea butter 2 lb 0 oz"
    assert "columns B “lb” and C “oz”" in answer.content.decode()


def test_a_weight_without_a_measure_is_asked_line_by_line_or_once(at_home: Client, maker: Maker) -> None:
    """As any bare number is; one choice answers all lines."""
    read = upload(at_home, maker, b"Ingredient,Cost/100 g,Weight\nBeeswax,3.20,200\n")
    assert "200 of what?" in read.content.decode()
    assert "No measure stands beside the figures" in read.content.decode()

    answer = again(at_home, maker, read, **{"columns-unit": "g", "do": "columns"})
    assert answer.context["form"]["text"].value() == "Beeswax 200 g"


def test_a_sheet_too_long_for_a_text_is_refused_whole(at_home: Client, maker: Maker) -> None:
    """No line is dropped from its end."""
    rows = "".join(f"{'x' * 200}{number},1\n" for number in range(150))
    answer = upload(at_home, maker, f"Ingredient,g\n{rows}".encode(), text="5 g wax")

    assert "20000 characters" in str(answer.context["form"].errors["sheet"])
    assert answer.context["form"]["text"].value() == "5 g wax"


@pytest.mark.parametrize("chosen", ["[", "[1]", '{"amount": "77"}', '{"head": {}}'])
def test_columns_that_no_page_wrote_are_asked(at_home: Client, maker: Maker, chosen: str) -> None:
    """A hidden field that was changed breaks nothing."""
    asked = upload(at_home, maker, ASKED)

    assert "shown" not in again(at_home, maker, asked, chosen=chosen).context


def test_a_file_of_another_kind_says_so(at_home: Client, maker: Maker) -> None:
    """And the text that was typed stays."""
    for content, words in ((b"\xd0\xcf\x11\xe0abc", "old or locked"), (b"PK\x03\x04abc", "Save it anew"),
                           (b"a\x00b", "no spreadsheet"), (b"\n", "empty")):  # fmt: skip
        data = {
            "region": "metric",
            "do": "read",
            "text": "5 g wax",
            "sheet": SimpleUploadedFile("a.csv", content),
        }
        answer = at_home.post(f"/{maker.slug}/formulas/read/", data)

        assert words in str(answer.context["form"].errors["sheet"])
        assert "5 g wax" in answer.content.decode()


def test_a_refusal_writes_nothing_at_all(at_home: Client, maker: Maker) -> None:
    """The name is taken: no ingredient was copied for it either."""
    text = "50 g beeswax\n50 g shea butter"
    assert send(at_home, maker, text).status_code == 303
    before = Ingredient.objects.for_maker(maker).count()

    again = send(at_home, maker, "50 g beeswax\n50 g cocoa butter")

    assert "formula of that name" in str(again.context["head"].errors)
    assert Ingredient.objects.for_maker(maker).count() == before


def test_what_stands_on_the_shelf_comes_before_the_catalogue(at_home: Client, by: By, maker: Maker) -> None:
    """By a part of its name or its INCI name: nothing is copied from the catalogue unasked."""
    make_ingredient(by, "Sea salt, fine")
    clay = make_ingredient(by, "White clay")
    make_composition(by, clay, part("Kaolin", "100"))

    answer = send(at_home, maker, "100 g salt\n2 g kaolin", do="read")

    rows = [one.row for one in answer.context["shown"]]
    assert [row.key for row in rows] == ["", ""]
    assert [row.match.offers[0].name for row in rows] == ["Sea salt, fine", "White clay"]
    assert "it will be copied" not in answer.content.decode()


def test_words_that_no_name_accounts_for_hold_up_the_amount(at_home: Client, maker: Maker) -> None:
    """They may be a condition of it, so the line asks, and says that the amount is to be looked at."""
    answer = send(at_home, maker, "50 g shea butter, gently warmed on Tuesdays", do="read")

    text = answer.content.decode()
    assert "is no name known here: choose what it is, and see that this is how much goes in." in text
    assert not answer.context["shown"][0].row.key


def test_a_phase_that_begins_like_a_step_takes_its_lines(at_home: Client, maker: Maker) -> None:
    """A preservative below "Cool down phase:" isn't heated with the oils."""
    text = "Water phase:\n70 g water\nOil phase\n29 g jojoba oil\nCool down phase:\n1 g vitamin e"

    answer = send(at_home, maker, text, do="read")

    assert [(one.row.letter, one.row.line.kind) for one in answer.context["shown"]][4:] == [
        ("C", "heading"),
        ("C", "line"),
    ]


def test_the_page_takes_as_many_queries_for_a_long_recipe(
    at_home: Client, maker: Maker, django_assert_max_num_queries: Any
) -> None:
    """200 lines as 2."""
    for count in (2, 200):
        with django_assert_max_num_queries(20):
            answer = send(at_home, maker, "5 g beeswax\n" * count, do="read")
        assert len(answer.context["shown"]) == count


def test_a_reader_reads_and_writes_nothing(client: Client, cast: Cast) -> None:
    """Refused at the door."""
    client.force_login(cast.reader.user)

    assert send(client, cast.maker, BALM).status_code == 403


def test_a_recipe_of_28_phases_gives_each_its_own(at_home: Client, maker: Maker, by: By) -> None:
    """After Z comes AA: no phase is poured into another, none loses its name, and the desk keeps the order."""
    parts = "\n".join(f"Phase {number}: part {number}\n10 g shea butter" for number in range(1, 29))

    answer = send(at_home, maker, parts)

    version = Formula.objects.get().versions.get()
    assert answer.status_code == 303
    assert [(one.letter, one.name) for one in version.phases.order_by("position")][24:] == [
        ("Y", "part 25"),
        ("Z", "part 26"),
        ("AA", "part 27"),
        ("AB", "part 28"),
    ]
    shown = at_home.get(answer["Location"]).content.decode()
    letters = re.findall(r'name="line-\d+-phase" value="([A-Z]+)"', shown)
    assert letters[:2] + letters[24:28] == ["A", "B", "Y", "Z", "AA", "AB"]


def limits_of(answer: Any) -> list[tuple[str, str]]:
    """Severity and subject of what the page says of limits."""
    return [(one.severity, one.subject) for one in answer.context["limits"].findings]


@pytest.mark.parametrize(
    ("drops", "expected"),
    [
        ("5 drops", []),
        ("30 drops", [("unknown", "Phenoxyethanol")]),
        ("100 drops", [("stop", "Phenoxyethanol")]),
        ("0.9 g", []),
    ],
)
def test_limits_look_at_both_ends_of_what_is_only_a_range(
    at_home: Client, maker: Maker, drops: str, expected: list[tuple[str, str]]
) -> None:
    """1 % of phenoxyethanol is the most (Reg (EC) 1223/2009, Annex V/29); a drop is 0.025 to 0.05 ml (memory)."""
    answer = send(at_home, maker, f"99 g glycerin\n{drops} phenoxyethanol", do="read")

    of_law = [one for one in limits_of(answer) if one[1] == "Phenoxyethanol"]
    assert of_law == expected
    text = answer.content.decode()
    assert ("Weigh once what is only a range" in text) == (expected[:1] == [("unknown", "Phenoxyethanol")])
    assert "leave-on, used on hands" in text


def test_limits_wait_for_the_percents_and_follow_the_use(at_home: Client, maker: Maker) -> None:
    """While a line asks there are none; another use has other limits (Annex III, Annex V)."""
    asking = send(at_home, maker, "99 g glycerin\nphenoxyethanol", do="read")
    assert asking.context["limits"] is None

    text = "98 g glycerin\n2 g sodium benzoate"
    on_skin = send(at_home, maker, text, do="read")
    rinsed = send(at_home, maker, text, do="read", kind="rinse-off")
    assert ("stop", "Sodium Benzoate") in [(a, b.title()) for a, b in limits_of(on_skin)]
    assert not [one for one in limits_of(rinsed) if one[0] == "stop"]


@pytest.mark.parametrize("lines", [2, 30])
def test_reading_takes_the_same_number_of_queries(
    at_home: Client, by: By, maker: Maker, lines: int, django_assert_max_num_queries: Any
) -> None:
    """However long the recipe."""
    for number in range(lines):
        add_ingredient(by, name=f"Wax number {number:03}")
    text = "\n".join(f"10 g Wax number {number:03}" for number in range(lines))
    with django_assert_max_num_queries(20):
        assert send(at_home, maker, text, do="read").status_code == 200
