"""Names by market: Art. 19(1)(g) and Annex IV; 21 CFR 701.3(c), 73, 74."""

from __future__ import annotations

import pytest

from labels.rules.names import eu_name, looks_botanical, us_name
from tests.labels.rules.examples import amount

# 21 CFR 73 and 74 subpart C; FDA page on ingredient names; botanicals from memory.
US_NAMES = [
    ("Aqua", False, "Water"),
    ("Cera Alba", False, "Beeswax"),
    ("Butyrospermum Parkii Butter", False, "Butyrospermum Parkii (Shea) Butter"),
    ("CI 77492", True, "Iron Oxides"),
    ("ci77891", True, "Titanium Dioxide"),
    ("CI 19140", True, "FD&C Yellow No. 5"),
    ("CI 15850:1", True, "D&C Red No. 7"),
    ("CI 77947", False, "Zinc Oxide"),
]


@pytest.mark.parametrize(("name", "colours", "printed"), US_NAMES)
def test_us_name(name: str, colours: bool, printed: str) -> None:
    """A row of the table of US names."""
    found = us_name(amount(name, "1", is_colourant=colours))

    assert (found.text, found.problem) == (printed, "")


def test_a_us_name_on_record_goes_before_a_guess() -> None:
    """What the maker entered and confirmed is printed, without a question."""
    found = us_name(
        amount(
            "Adansonia Digitata Seed Oil",
            "1",
            us_name="Adansonia (Baobab) Seed Oil",
            us_name_basis="confirmed",
        )
    )

    assert (found.text, found.fact) == ("Adansonia (Baobab) Seed Oil", None)


def test_a_chemical_name_is_taken_over_and_asked_about() -> None:
    """Most chemical names are the same in both markets; nobody has read it, so it is a fact to confirm."""
    found = us_name(amount("Panthenol", "1"))

    assert found.text == "Panthenol"
    assert found.fact is not None
    assert found.fact.key == "us-name:panthenol"


@pytest.mark.parametrize("name", ["CI 14720", "CI 74160", "CI 77220"])
def test_colours_not_listed_in_the_us_are_barred(name: str) -> None:
    """FD&C Act 601(e), 721: no section in parts 73 and 74 for use as a colour."""
    assert us_name(amount(name, "1", is_colourant=True)).barred


def test_a_certified_colour_brings_a_note() -> None:
    """21 CFR 74: batch certification; the note says to keep the lot number."""
    assert "lot number" in us_name(amount("CI 19140", "1", is_colourant=True)).note


# Annex IV: a CI number where there is one, else its name; mica and tin oxide are not in it.
EU_NAMES = [
    ("CI 77491", True, "CI 77491"),
    ("Titanium Dioxide", True, "CI 77891"),
    ("Titanium Dioxide", False, "Titanium Dioxide"),
    ("CI 77891", False, "Titanium Dioxide"),
    ("Caramel", True, "Caramel"),
    ("CI 77019", True, "Mica"),
    ("CI 77861", True, "Tin Oxide"),
    ("Mica", True, "Mica"),
]


@pytest.mark.parametrize(("name", "colours", "printed"), EU_NAMES)
def test_eu_name(name: str, colours: bool, printed: str) -> None:
    """A colour by number, the same stuff for another purpose by its plain name."""
    found = eu_name(amount(name, "1", is_colourant=colours))

    assert (found.text, found.problem) == (printed, "")


@pytest.mark.parametrize(
    ("name", "is_plant"),
    [
        ("Helianthus Annuus Seed Oil", True),
        ("Helianthus Annuus (Sunflower) Seed Oil", False),
        ("Hydrogenated Castor Oil", False),
        ("Xanthan Gum", False),
    ],
)
def test_plants_are_told_by_their_last_word(name: str, is_plant: bool) -> None:
    """A common name in brackets is what the US want, so it settles the matter (no source: our test)."""
    assert looks_botanical(name) is is_plant
