"""Which material a name means."""

from __future__ import annotations

import pytest

from formulas.rules.catalogue import catalogue, catalogue_by_key
from formulas.rules.recipe.names import Known, Names, common_names, in_catalogue

NAMES = Names(in_catalogue(material.key, material) for material in catalogue())


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


@pytest.mark.parametrize(
    ("text", "name"),
    [("cacao butter", "cocoa butter"), ("bees wax", "beeswax"), ("Cornstarch", "maize starch"),
     ("bicarbonate of soda", "baking soda"), ("Niacinamide", "vitamin B3"), ("Sodium Hydroxide", "lye, caustic soda"),
     ("Aqua", "purified water")],
)  # fmt: skip
def test_what_the_trade_and_the_law_call_it_is_sure(text: str, name: str) -> None:
    """INCI names of materials that are one substance, and common names; common practice, no source."""
    found = NAMES.match(text).sure

    assert found is not None
    assert found.name == name


@pytest.mark.parametrize(
    ("text", "never"),
    [
        ("rose oil", "rose water"), ("rose", "rose water"), ("rosemary", "rose water"),
        ("almond milk", "sweet almond oil"), ("almond oil", "almond meal"),
        ("bitter almond oil", "sweet almond oil"), ("cocoa", "cocoa butter"),
        ("sodium PCA", "sodium lactate 60 % solution"), ("sodium carbonate", "baking soda"), ("castor", "castor oil"),
        ("PEG-40 hydrogenated castor oil", "hydrogenated castor oil"), ("PEG-40 hydrogenated castor oil", "castor oil"),
        ("tea", "tea tree oil"), ("green tea oil", "tea tree oil"), ("wax", "beeswax"), ("vitamin E", "vitamin C"),
        ("vitamin E", "vitamin E acetate"), ("vitamin E", "vitamin E (mixed tocopherols)"), ("coconut", "coconut oil"),
        ("coconut milk", "coconut oil"), ("lavender water", "lavender oil"), ("lemon juice", "lemon, cold pressed oil"),
        ("baking powder", "baking soda"), ("washing soda", "baking soda"), ("olive squalane", "olive oil"),
        ("sunflower lecithin", "lecithin"), ("bitter orange oil", "sweet orange, cold pressed oil"),
        ("polysorbate", "polysorbate 80"), ("squalene", "squalane"), ("shea oil", "shea butter"), ("oil", "olive oil"),
        ("cinnamon oil", "cinnamon bark oil"), ("lactic acid", "lactic acid 80-90 %"), ("emulsifying wax", "beeswax"),
    ],
)  # fmt: skip
def test_another_material_of_a_like_name_is_never_taken(text: str, never: str) -> None:
    """It may be offered; the maker chooses."""
    found = NAMES.match(text).sure

    assert found is None or found.name != never


@pytest.mark.parametrize(
    "text", ["lemon oil", "clove oil", "almond oil", "fragrance oil", "sodium PCA", "goat milk"]
)
def test_a_word_that_many_share_offers_nothing_by_itself(text: str) -> None:
    """Neither olive oil nor table salt stands behind these."""
    offers = {one.name for one in NAMES.match(text).offers}

    assert not offers & {"olive oil", "palm oil", "argan oil", "salt", "milk powder", "castor oil"}


def test_every_common_name_is_of_a_material_in_the_catalogue_and_means_one_alone() -> None:
    """A name that is sure of two materials would be asked."""
    assert common_names().keys() <= catalogue_by_key().keys()
    for means, may_mean in common_names().values():
        assert not set(means) & set(may_mean)
        for name in means:
            found = NAMES.match(name).sure
            assert found is not None, name
            assert name in common_names()[found.key][0]


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
