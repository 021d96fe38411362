"""The starter catalogue on screen."""

from __future__ import annotations

from django.test import Client

from formulas.models import Ingredient
from makers.actions import By
from tests.formulas.pages import page, text_of, url


def test_the_catalogue_is_searched_by_name_inci_and_role(at_home: Client, by: By) -> None:
    """What fits is listed, the rest is not."""
    text = page(at_home, by, "ingredients/catalogue/?q=Butyrospermum")

    assert ">Shea butter</a>" in text
    assert ">Cocoa butter</a>" not in text
    assert ">Beeswax</a>" in page(at_home, by, "ingredients/catalogue/?q=wax")
    assert "nothing called" in page(at_home, by, "ingredients/catalogue/?q=unobtainium")


def test_copying_leads_back_to_the_search_and_marks_it_as_yours(at_home: Client, by: By) -> None:
    """Several are copied in a row; a double tap copies one and says so."""
    sent = {"key": "shea-butter", "q": "shea"}

    answers = [at_home.post(url(by, "ingredients/catalogue/"), sent) for _ in range(2)]

    assert {one["Location"] for one in answers} == {url(by, "ingredients/catalogue/?q=shea")}
    assert Ingredient.objects.for_maker(by.maker).count() == 1
    text = page(at_home, by, "ingredients/catalogue/?q=shea")
    assert "Yours" in text
    assert "among your ingredients already" in text


def test_a_material_shows_what_each_figure_rests_on_and_is_copied_by_name(at_home: Client, by: By) -> None:
    """What was read and what is memory stand apart; the name is the maker's."""
    text = page(at_home, by, "ingredients/catalogue/cocoa-butter/")
    assert "read in the source" in text.split("Melts from")[1].split("</tr>")[0]
    assert "from memory" in text.split("Density")[1].split("</tr>")[0]

    at_home.post(url(by, "ingredients/catalogue/cocoa-butter/"), {"name": "Cocoa butter, drops"})
    again = at_home.post(url(by, "ingredients/catalogue/cocoa-butter/"), {"name": "Cocoa butter, drops"})

    assert Ingredient.objects.for_maker(by.maker).get().name == "Cocoa butter, drops"
    assert "Give the copy another name" in text_of(again)
