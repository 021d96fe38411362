"""Lines in many tongues whose figure isn't how much goes in, or that tell an amount in words: each is asked.

The lines stand in ``asked_lines.txt``, one each; what makes them odd are everyday words, common practice, no source.
"""

from __future__ import annotations

import re
from decimal import Decimal as D
from pathlib import Path

import pytest

from formulas.rules.catalogue import catalogue
from formulas.rules.recipe.grams import Weighed, shares
from formulas.rules.recipe.lines import read_line, read_recipe
from formulas.rules.recipe.names import Known, Names, in_catalogue
from formulas.rules.recipe.sheets import Columns, Question, find_columns, sheet_text
from formulas.rules.recipe.strays import ask_beside
from formulas.rules.recipe.tongues import folded, speaks_an_amount
from formulas.rules.tables import read_table

LINES = (Path(__file__).parent / "asked_lines.txt").read_text(encoding="utf-8").splitlines()


def plain(line: str) -> str:
    """A line of the file with the marks that can't be seen, which it writes as numbers."""
    return re.sub(r"\\u(\w{4})|\\x(\w{2})", lambda found: chr(int(found[1] or found[2], 16)), line).replace(
        "\\t", "\t"
    )


@pytest.mark.parametrize("line", LINES)
def test_it_is_asked(line: str) -> None:
    """Neither read as an amount nor taken for words of no account."""
    assert read_line(plain(line)).asks


@pytest.mark.parametrize(
    ("line", "amount"),
    [
        ("20 g Bienenwachs", "20 g"), ("Olivenöl 80 g", "80 g"), ("cire d'abeille 20 g", "20 g"),
        ("3 % de karité", "3 %"),
        ("20 g de cera de abejas", "20 g"), ("olio di mandorle 50 ml", "50 ml"), ("20 g bijenwas", "20 g"),
        ("beeswax, white, 20 g", "20 g"), ("5 g chamomile extract 20:1", "5 g"), ("Tween 20 3 g", "3 g"),
        ("2 tbsp plus 1 tsp jojoba oil", "2 tbsp"), ("½ tsp mica", "1/2 tsp"), ("&#189; tsp mica", "1/2 tsp"),
        ("Wax . . . . . .50 g", "50 g"), ("Shea butter 20\u00ad30 g", "20-30 g"), ("1,2-Hexanediol 2 %", "2 %"),
        ("Vitamin E 0.5%", "1/2 %"), ("Vitamin C 5 g", "5 g"), ("15 druppels lavendel", "15 drop"),
        ("Pour le parfum 10 gttes de lavande", "10 drop"), ("Coconut oil 92 degree 8 g", "8 g"),
        ("Cetyl alcohol 3 %", "3 %"), ("Lactic acid 1 %", "1 %"), ("Glycerin 5 %", "5 %"),
        ("Goat milk powder 2 %", "2 %"),
    ],
)  # fmt: skip
def test_plain_lines_are_read_all_the_same(line: str, amount: str) -> None:
    """The words that are asked don't stand in what names a material."""
    read = read_line(line)
    count = read.amounts[0].count if read.amounts else None
    ends = "" if count is None else str(count.low) if count.low == count.high else f"{count.low}-{count.high}"
    assert (read.asks, f"{ends} {read.amounts[0].unit}" if read.amounts else "") == ("", amount)


@pytest.mark.parametrize(
    "line",
    [
        "Cool down phase:",
        "Oil phase",
        "Melt:",
        "Ölphase",
        "Phase C, cool down (below 40 °C)",
        "Fase oleosa",
        "Method",
    ],
)
def test_a_phase_is_a_heading_whatever_word_begins_it(line: str) -> None:
    """ "Cool" and "melt" begin steps as well."""
    assert (read_line(line).kind, read_line(line).asks) == ("heading", "")


@pytest.mark.parametrize(
    "line", ["Heat to 100", "Pour the remainder into jars", "Balance the pH", "Bring slowly up to 100"]
)
def test_a_step_takes_no_rest(line: str) -> None:
    """ "To 100" and "the remainder" fill up a recipe only where an ingredient stands."""
    assert not read_line(line).is_rest or read_line(line).asks


@pytest.mark.parametrize(
    "line",
    [
        "Shelf life 6 months.",
        "Haltbarkeit: 6 Monate",
        "Cure for 4-6 weeks.",
        "Die Fette im Wasserbad bei 70 °C schmelzen.",
        "Laisser refroidir 30 minutes puis couler en moule.",
        "Sciogliere i burri a bagnomaria a 70 °C.",
    ],
)
def test_time_and_warmth_are_no_amounts(line: str) -> None:
    """How long a thing keeps, and a step in any tongue, are words of the recipe."""
    assert (read_line(line).kind, read_line(line).asks) == ("words", "")


@pytest.mark.parametrize("passage", ["1 " * 5000, "(" * 2000 + "5 g", "a pinch of salt and so on " * 40])
def test_a_passage_is_no_line(passage: str) -> None:
    """It asks for lines, and takes no time to be searched."""
    assert (read_line(passage).kind, read_line(passage).amounts) == ("words", ())
    assert "a line of its own" in read_line(passage).asks


def test_degrees_that_were_left_aside_are_said() -> None:
    """They may be a grade or a strength of the material as well as a warmth."""
    assert "92 degree" in read_line("Coconut oil 92 degree 8 g").notes[0]


def test_a_title_undoes_no_table_of_percents_and_grams() -> None:
    """A line without a figure decides nothing about the others, nor does one that was left out."""
    table = "Hand lotion\nAqua 75 % 150 g\nGlycerin 5 % 10 g\nOil 20 % 40 g"
    assert [one.asks for one in read_recipe(table)][1:] == ["", "", ""]
    dated = table.replace("Hand lotion", "Hand lotion no. 7 of 9")
    assert all(one.asks for one in read_recipe(dated)[1:])
    assert [one.asks for one in read_recipe(dated, without=[1])][1:] == ["", "", ""]


def test_no_word_of_the_list_stands_in_the_name_of_a_material() -> None:
    """Else every line with that material would be asked; the few that do are asked on purpose."""
    asked = {material.name for material in catalogue() if ask_beside(f"\x00 {material.name}", ())}
    assert asked <= {"Soap base", "Tin oxide", "Egg oil"}, asked


def test_words_are_found_without_accents_and_case() -> None:
    """As people type them; a place in the folded text is the place in the text."""
    assert folded("MÁXIMO Größe l’eau") == "maximo große l’eau"
    assert speaks_an_amount("Une CUILLEREE de miel")
    assert all(row["source"] and row["basis"] == "memory" for row in read_table("recipe_words.csv"))


@pytest.fixture(scope="module")
def names() -> Names:
    """The catalogue, and two ingredients of a maker's."""
    own = [
        Known("own:1", "Sea salt, fine", is_own=True),
        Known("own:2", "Beeswax", ("Bienenwachs",), is_own=True),
    ]
    return Names([*own, *(in_catalogue(one.key, one) for one in catalogue() if one.key != "beeswax")])


@pytest.mark.parametrize(
    "name", ["Beeswax, olive oil", "Beeswax (see note)", "Beeswax: stock", "Beeswax, plenty", "davon Beeswax"]
)
def test_a_name_is_sure_only_where_every_word_is_accounted_for(names: Names, name: str) -> None:
    """What no name explains may change the amount; the material is offered all the same."""
    match = names.match(name)
    assert match.sure is None
    assert match.offers
    assert match.offers[0].name == "Beeswax"


@pytest.mark.parametrize(
    "name", ["Beeswax, melted", "Beeswax (yellow, unrefined)", "organic Beeswax", "BEESWAX"]
)
def test_a_remark_of_its_kind_keeps_a_name_sure(names: Names, name: str) -> None:
    """Words that leave the material and its amount what they are."""
    match = names.match(name)
    assert match.sure is not None
    assert match.sure.name == "Beeswax"


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ("20 g Bienenwachs", "Beeswax"),
        ("100 g de beurre de karité", "shea butter"),
        ("50 ml d'huile d'amande douce", "sweet almond oil"),
        ("agua 60 g", "purified water"),
        ("5 g di ossido di zinco (non nano)", "zinc oxide"),
        ("30 g kokosolie", "coconut oil"),
    ],
)
def test_everyday_names_in_other_tongues_are_known(names: Names, line: str, name: str) -> None:
    """The commonest materials; "de" and "di" in front of them are no part of the name."""
    match = names.match(read_line(line).name)
    offered = match.sure or match.offers[0]
    assert offered.name.casefold() == name.casefold()


def test_the_makers_own_comes_before_the_catalogue(names: Names) -> None:
    """ "Salt" may be the sea salt that stands on the shelf: it is offered first, and nothing is copied unasked."""
    match = names.match("salt")
    assert match.sure is None
    assert match.offers[0].name == "Sea salt, fine"


def test_percents_that_count_twice_or_are_hundredths_are_asked() -> None:
    """Sums of phases beside their lines make 200; a sheet's 0.2, 0.3 and 0.5 make 1."""

    def of(*percents: str) -> object:
        return shares([Weighed(D(one), D(one), "%") for one in percents])

    assert "make 200" in str(of("25", "15", "10", "75", "70", "5"))
    assert "hundredths" in str(of("0.2", "0.3", "0.5"))
    assert not isinstance(of("60", "30"), str)


@pytest.mark.parametrize(
    ("sheet", "asks"),
    [
        ("Ingredient,g,Ingredient,g\nWax,20,Salt,20\nOil,80,Sugar,80", "one recipe beside another"),
        ("Zutat,Menge (g)\nBienenwachs,12,5\nMandelöl,30", "past the last head"),
    ],
)
def test_cells_that_do_not_stand_under_their_heads_are_asked(sheet: str, asks: str) -> None:
    """Two recipes side by side; figures that a comma has cut in two."""
    found = find_columns([line.split(",") for line in sheet.splitlines()])
    assert isinstance(found, Question)
    assert asks in found.asks


def test_a_heading_with_a_measure_of_its_own_leaves_figures_bare() -> None:
    """Below "Cool down (%)" a figure isn't grams because the column says so: it is asked."""
    rows = [
        line.split(",")
        for line in "Ingredient,g\nWax,20\nCool down (%),\nLavender,1\nHot (g),\nOil,5".splitlines()
    ]
    found = find_columns(rows)
    assert isinstance(found, Columns)
    lines = {one.name: one for one in read_recipe(sheet_text(rows, found))}
    assert lines["Lavender"].asks
    assert not lines["Oil"].asks
