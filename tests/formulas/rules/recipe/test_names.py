"""Which material a name means."""

from __future__ import annotations

import pytest

from formulas.rules.catalogue import catalogue
from formulas.rules.recipe.names import Known, Names

NAMES = Names(Known(material.key, material.name) for material in catalogue())


@pytest.mark.parametrize(
    ("text", "name"),
    [("Cocoa butter", "cocoa butter"), ("organic shea butter, melted", "shea butter"), ("coconut oils", "coconut oil"),
     ("Jojoba Oil (golden)", "jojoba oil"), ("glycerine", "glycerin"), ("  BAKING  SODA ", "baking soda")],
)  # fmt: skip
def test_the_same_name_is_sure(text: str, name: str) -> None:
    """Case, plural, spelling and what doesn't change the material aside."""
    found = NAMES.match(text).sure

    assert found is not None
    assert found.name == name


@pytest.mark.parametrize(
    ("text", "offered"),
    [("vit E", "vitamin E (mixed tocopherols)"), ("lavender", "lavender oil"),
     ("lavender essential oil", "lavender oil"),
     ("rose hip oil", "rosehip oil"), ("sea salt", "salt"), ("distilled water", "purified water"),
     ("beeswax pellets", "beeswax"), ("Emulsifying wax NF", "emulsifying wax (non-ionic)")],
)  # fmt: skip
def test_a_near_name_is_offered_and_not_taken(text: str, offered: str) -> None:
    """The maker chooses."""
    found = NAMES.match(text)

    assert found.sure is None
    assert offered in [one.name for one in found.offers]


@pytest.mark.parametrize("text", ["unicorn dust", "", "???", "of the"])
def test_a_name_like_nothing_gets_no_offer(text: str) -> None:
    """Nothing is pressed on it."""
    found = NAMES.match(text)

    assert (found.sure, found.offers) == (None, ())


def test_the_makers_own_comes_before_the_catalogue() -> None:
    """Both have the name; the first in the list is taken."""
    names = Names([Known("own:7", "Jojoba oil"), Known("catalogue:jojoba", "jojoba oil")])

    found = names.match("jojoba oil").sure

    assert found is not None
    assert found.key == "own:7"


def test_two_materials_of_one_name_are_asked() -> None:
    """Another name of one is the other's own: neither is taken."""
    names = Names([Known("a", "Balm base", ("white wax",)), Known("b", "Candle base", ("white wax",))])

    found = names.match("white wax")

    assert found.sure is None
    assert {one.key for one in found.offers} == {"a", "b"}
