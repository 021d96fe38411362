"""The US list: 21 CFR 701.3(a), (f), (l); names 701.3(c)."""

from __future__ import annotations

from labels.rules.declaration import MARKETS, declare_us
from labels.rules.entries import COLOURS, FREE, SORTED
from tests.labels.rules.examples import amount, point, product


def test_grouping_of_the_rule() -> None:
    """701.3(f): above 1 % descending, 1 % and less, color additives; iron oxides are one entry."""
    declaration = declare_us(
        product(
            amount("Aqua", "70"),
            amount("Glycerin", "5"),
            amount("Butyrospermum Parkii Butter", "12"),
            amount("Cetyl Alcohol", "3", us_name="Cetyl Alcohol"),
            amount("Parfum", "0.8", is_perfume=True),
            amount("Phenoxyethanol", "1.0", us_name="Phenoxyethanol"),
            amount("CI 77491", "1.5", is_colourant=True),
            amount("CI 77492", "0.5", is_colourant=True),
            amount("Mica", "4", is_colourant=True),
            amount("Xanthan Gum", "2.2", us_name="Xanthan Gum"),
        )
    )

    assert declaration.listing == (
        "Water, Butyrospermum Parkii (Shea) Butter, Glycerin, Cetyl Alcohol, Xanthan Gum, Phenoxyethanol, "
        "Fragrance, Mica, Iron Oxides"
    )
    assert declaration.entries[-1].percent == point("2.0")
    assert declaration.entries[5].section == FREE


def test_exactly_one_percent_is_free_and_a_pigment_of_twenty_stands_last() -> None:
    """701.3(f): "greater than 1 percent" is sorted, so 1.00 % may stand anywhere after."""
    declaration = declare_us(
        product(
            amount("Cera Alba", "1.00"),
            amount("Tocopherol", "1.01"),
            amount("CI 77891", "20", is_colourant=True),
            amount("Simmondsia Chinensis Seed Oil", "77.99"),
        )
    )

    assert declaration.names == (
        "Simmondsia Chinensis (Jojoba) Seed Oil",
        "Tocopherol",
        "Beeswax",
        "Titanium Dioxide",
    )
    assert [entry.section for entry in declaration.entries] == [SORTED, SORTED, FREE, COLOURS]


def test_incidental_is_left_out_with_its_reason() -> None:
    """701.3(l): carried in at an insignificant level without effect, by a recorded decision."""
    carried = amount(
        "Citric Acid", "0.001", incidental=True, incidental_reason="stabilises the extract alone"
    )

    declaration = declare_us(product(amount("Aqua", "99.999"), carried))

    assert declaration.names == ("Water",)
    assert declaration.left_out[0].source == "21 CFR 701.3(l)"


def test_a_colour_that_the_us_do_not_list_is_a_stop() -> None:
    """FD&C Act 601(e): carmoisine has no section in 21 CFR 73 or 74."""
    declaration = declare_us(product(amount("Aqua", "99"), amount("CI 14720", "1", is_colourant=True)))

    (stop,) = declaration.stops

    assert stop.rule == "declaration.name"
    assert not declaration.is_complete


def test_a_plant_without_its_english_name_is_a_question() -> None:
    """FDA: Latin alone is no common or usual name."""
    declaration = declare_us(product(amount("Adansonia Digitata Seed Oil", "100")))

    assert [finding.subject for finding in declaration.unknowns] == ["Adansonia Digitata Seed Oil"]


def test_a_name_from_memory_is_a_fact_to_confirm() -> None:
    """Aqua was read as Water; Cera Alba as Beeswax is known from memory alone."""
    declaration = declare_us(product(amount("Aqua", "60"), amount("Cera Alba", "40")))

    assert [fact.text for fact in declaration.facts_from_memory] == [
        "Cera Alba is printed as Beeswax in the US."
    ]


def test_allergens_of_a_perfume_stay_within_fragrance() -> None:
    """FD&C Act 609(b): no rule in force asks for their names so far."""
    declaration = declare_us(
        product(
            amount("Aqua", "99"),
            amount("Lavandula Angustifolia Oil", "1", is_perfume=True),
            amount("Linalool", "0.3", within=True),
        )
    )

    assert declaration.names == ("Water", "Fragrance")


def test_one_name_for_colour_and_filter_stands_by_its_whole_weight() -> None:
    """Titanium dioxide as pigment and as opacifier is printed once, in the sorted part."""
    declaration = declare_us(
        product(
            amount("Aqua", "93"),
            amount("CI 77891", "2", is_colourant=True),
            amount("Titanium Dioxide", "5", us_name="Titanium Dioxide"),
        )
    )

    assert declaration.names == ("Water", "Titanium Dioxide")
    assert declaration.entries[1].section == SORTED


def test_markets_without_rules_are_absent() -> None:
    """A market is there only with rules of its own."""
    assert set(MARKETS) == {"EU", "GB", "US"}
