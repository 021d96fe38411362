"""The EU and GB list: Reg (EC) 1223/2009 Art. 19(1)(g), Annex III with Reg (EU) 2023/1545, Annex IV."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from formulas.rules.vocabulary import LEAVE_ON, RINSE_OFF
from labels.rules.amounts import Contribution, DeclaredAmount, ScentedMaterial, UnknownPart
from labels.rules.declaration import declare_eu, declare_gb
from labels.rules.entries import ALLERGENS, COLOURS, FREE, SORTED, percent_text
from tests.labels.rules.examples import amount, point, product

MAKE_UP = (
    amount("Aqua", "60"),
    amount("Caprylic/Capric Triglyceride", "20"),
    amount("Glycerin", "10"),
    amount("CI 77891", "4", is_colourant=True),
    amount("CI 77019", "3", is_colourant=True),
    amount("Cetyl Alcohol", "1"),
    amount("Lavandula Angustifolia Oil", "0.9", is_perfume=True),
    amount("CI 77491", "0.6", is_colourant=True),
    amount("Phenoxyethanol", "0.5"),
)


def test_order_colours_last_and_mica_by_weight() -> None:
    """Art. 19(1)(g): weight order from 1 %, below 1 % any order, colours at the end at any level."""
    declaration = declare_eu(product(*MAKE_UP, first_supply=date(2026, 11, 25)))

    assert declaration.names == (
        "Aqua",
        "Caprylic/Capric Triglyceride",
        "Glycerin",
        "Mica",
        "Cetyl Alcohol",
        "Parfum",
        "Phenoxyethanol",
        "Lavandula Oil/Extract",
        "CI 77891",
        "CI 77491",
    )
    assert declaration.text.startswith("Ingredients: Aqua, ")
    assert [entry.section for entry in declaration.entries] == [SORTED] * 5 + [FREE] * 2 + [ALLERGENS] + [
        COLOURS
    ] * 2


def test_exactly_one_percent_belongs_to_the_sorted_part() -> None:
    """Art. 19(1)(g) says "less than 1 %" for the free part, so 1.0 % is sorted."""
    declaration = declare_eu(product(amount("Aqua", "98.01"), amount("B", "1"), amount("A", "0.99")))

    assert [(entry.printed_name, entry.section) for entry in declaration.entries] == [
        ("Aqua", SORTED),
        ("B", SORTED),
        ("A", FREE),
    ]


def _within(name: str, share: str, of: str = "0.3") -> DeclaredAmount:
    percent = Decimal(share) * Decimal(of) / 100
    return amount(name, str(percent), within=True)


# Reg (EU) 2023/1545: strictly above 0.001 % leave-on, 0.01 % rinse-off; by hand: share x use / 100.
ALLERGEN_CASES = [
    pytest.param(LEAVE_ON, [_within("Linalool", "32")], "Linalool", True, id="0.096 over 0.001"),
    pytest.param(LEAVE_ON, [_within("Linalyl Acetate", "35")], "Linalyl Acetate", True, id="0.105, newer"),
    pytest.param(LEAVE_ON, [_within("Coumarin", "0.2")], "Coumarin", False, id="0.0006 below"),
    pytest.param(
        LEAVE_ON,
        [amount("Lavandula Angustifolia Oil", "0.3", is_perfume=True)],
        "Lavandula Oil/Extract",
        True,
        id="the oil itself",
    ),
    pytest.param(RINSE_OFF, [_within("Citral", "2", "0.5")], "Citral", False, id="equal to 0.01"),
    pytest.param(RINSE_OFF, [_within("Citral", "2.01", "0.5")], "Citral", True, id="0.01005"),
    pytest.param(
        RINSE_OFF,
        [_within("Neral", "2", "0.3"), _within("Geranial", "3", "0.2")],
        "Citral",
        True,
        id="0.006 + 0.006 summed",
    ),
    pytest.param(
        LEAVE_ON,
        [
            amount("Citrus Aurantium Dulcis Peel Oil", "0.0005", is_perfume=True),
            amount("Citrus Aurantium Amara Peel Oil", "0.0006", is_perfume=True),
        ],
        "Citrus Aurantium Peel Oil",
        True,
        id="0.0011 of two oils",
    ),
]


@pytest.mark.parametrize(("kind", "parts", "name", "is_named"), ALLERGEN_CASES)
def test_allergen_is_named_strictly_above_its_threshold(
    kind: str, parts: list[DeclaredAmount], name: str, is_named: bool
) -> None:
    """Annex III: exceeds, so equal is not named; members of a group count together."""
    declaration = declare_eu(product(amount("Aqua", "99"), *parts, kind=kind))

    assert (name in declaration.names) is is_named


def test_allergen_not_named_is_shown_among_what_was_looked_at() -> None:
    """Coumarin at 0.0006 % stays out, with its figure and its threshold."""
    declaration = declare_eu(product(amount("Aqua", "99"), _within("Coumarin", "0.2")))

    (left,) = declaration.left_out

    assert (left.name, left.reason) == ("Coumarin", "named only above 0.001 %")


def test_upper_end_of_a_range_decides() -> None:
    """A supplier's range is tested at its upper end (editorial safe course, no source)."""
    low_only = amount("Linalool", span=("0.0001", "0.0011"), within=True)

    assert "Linalool" in declare_eu(product(amount("Aqua", "99"), low_only)).names


@pytest.mark.parametrize(
    ("first_supply", "named"),
    [
        (date(2026, 7, 31), ("Linalool",)),
        (date(2026, 8, 1), ("Lavandula Oil/Extract", "Linalyl Acetate", "Linalool")),
        (date(2026, 11, 25), ("Lavandula Oil/Extract", "Linalyl Acetate", "Linalool")),
        (None, ("Lavandula Oil/Extract", "Linalyl Acetate", "Linalool")),
    ],
)
def test_first_supply_decides_which_list_holds(first_supply: date | None, named: tuple[str, ...]) -> None:
    """Reg (EU) 2023/1545: placed on the market to 2026-07-31 under the old state, 81 names after."""
    oil = amount("Lavandula Angustifolia Oil", "0.3", is_perfume=True)
    parts = (oil, _within("Linalool", "32"), _within("Linalyl Acetate", "35"))

    declaration = declare_eu(product(amount("Aqua", "99.7"), *parts, first_supply=first_supply))

    assert tuple(entry.printed_name for entry in declaration.section(ALLERGENS)) == named


def test_great_britain_names_the_older_ones_only() -> None:
    """No GB act takes over the list of 2023 (absence of evidence): the 24 older names on any date."""
    parts = (amount("Lavandula Angustifolia Oil", "0.3", is_perfume=True), _within("Linalool", "32"))

    declaration = declare_gb(
        product(
            amount("Aqua", "99.7"), *parts, _within("Linalyl Acetate", "35"), first_supply=date(2026, 11, 25)
        )
    )

    assert declaration.names == ("Aqua", "Parfum", "Linalool")
    assert declaration.market == "GB"


def test_an_allergen_that_is_in_the_list_already_is_printed_once() -> None:
    """Benzyl alcohol as preservative and in the perfume (print once: common practice, no source)."""
    declaration = declare_eu(
        product(
            amount("Aqua", "98.83"),
            amount("Benzyl Alcohol", "0.87"),
            amount("Parfum", "0.3", is_perfume=True),
            amount("Benzyl Alcohol", "0.01", within=True),
        )
    )

    assert declaration.names == ("Aqua", "Benzyl Alcohol", "Parfum")
    assert "list of perfume allergens" in declaration.entries[1].also


def test_a_single_chemical_is_found_by_its_number_and_a_plant_is_only_hinted_at() -> None:
    """Names decide, CAS numbers are a hint: one number covers several parts of a plant."""
    pinene = amount("alpha-Pinene", "0.01", cas="80-56-8", within=True)
    water = amount("Lavandula Angustifolia Flower Water", "5", cas="90063-37-9")

    declaration = declare_eu(product(amount("Aqua", "95"), water, pinene))

    assert "Pinene" in declaration.names
    assert "Lavandula Oil/Extract" not in declaration.names
    assert {note.rule for note in declaration.notes} >= {
        "declaration.allergen-by-number",
        "declaration.allergen-hint",
    }


def test_equal_names_are_summed_over_materials() -> None:
    """Blends are opened and equal names merged (common practice, no source)."""
    declaration = declare_eu(
        product(amount("Glycerin", "1.5"), amount("Aqua", "97.4"), amount("Glycerin", "1.1", cas="56-81-5"))
    )

    glycerin = declaration.entries[1]

    assert glycerin.percent == point("2.6")
    assert len(glycerin.contributions) == 2


def test_nanomaterial_says_so() -> None:
    """Art. 19(1)(g): the word nano in brackets follows the name."""
    declaration = declare_eu(product(amount("Aqua", "98"), amount("Zinc Oxide", "2", nano=True)))

    assert declaration.names == ("Aqua", "Zinc Oxide (nano)")


def test_a_pigment_used_for_another_purpose_stands_by_weight_under_its_plain_name() -> None:
    """The colour rule is for colouring; as a sun filter CI 77947 is Zinc Oxide (Annex IV, VI)."""
    declaration = declare_eu(product(amount("Aqua", "90"), amount("CI 77947", "8"), amount("Cera Alba", "2")))

    assert declaration.names == ("Aqua", "Zinc Oxide", "Cera Alba")


def test_a_colour_outside_annex_iv_is_unknown() -> None:
    """Annex IV lists what is allowed; a colour that isn't in the copy held here is a question."""
    declaration = declare_eu(product(amount("Aqua", "99"), amount("Mystery Red", "1", is_colourant=True)))

    assert [finding.rule for finding in declaration.unknowns] == ["declaration.name"]
    assert not declaration.is_complete


def test_equal_shares_are_pointed_out() -> None:
    """Two names at 4 %: either may come first."""
    declaration = declare_eu(product(amount("Aqua", "92"), amount("Glycerin", "4"), amount("Butter", "4")))

    (note,) = declaration.notes

    assert note.message.startswith("Butter and Glycerin stand equal at 4 %: either may come first")


def test_order_that_a_range_could_flip_is_reported() -> None:
    """A supplier's 1.8 to 2.4 % reaches past a neighbour at 2.2 %."""
    declaration = declare_eu(
        product(
            amount("Aqua", "95.8"),
            amount("Cetyl Alcohol", "2.2"),
            amount("Sorbitan Olivate", "2", span=("1.8", "2.4")),
        )
    )

    assert declaration.entries[1].could_move == ("May weigh less than Sorbitan Olivate (1.8 to 2.4 %).",)
    assert declaration.entries[2].could_move == ("May weigh more than Cetyl Alcohol (2.2 %).",)
    assert [note.rule for note in declaration.notes] == ["declaration.order"]


def test_ranges_below_one_percent_move_nothing() -> None:
    """Below 1 % any order is right, so an overlap there isn't reported."""
    declaration = declare_eu(
        product(amount("Aqua", "99"), amount("A", "0.5", span=("0.2", "0.9")), amount("B", "0.4"))
    )

    assert declaration.notes == ()
    assert all(entry.could_move == () for entry in declaration.entries)


def test_unknowns_block_completeness() -> None:
    """Unknown is never zero: unknown parts, unstated allergens and amounts without an end say so."""
    declaration = declare_eu(
        product(
            amount("Aqua", "90"),
            amount("Parfum", "1", is_perfume=True),
            amount("Extract of Something", None),
            amount("Linalool", None, within=True),
            unknown_parts=(
                UnknownPart("Mystery base", "line 3", point("9"), "its composition is not known"),
            ),
            scented=(ScentedMaterial("Rose perfume", "L-7", point("1"), allergens_stated=False),),
        )
    )

    assert {finding.rule for finding in declaration.unknowns} == {
        "declaration.amount",
        "declaration.unknown-part",
        "declaration.allergens-unstated",
        "declaration.allergen-amount",
    }
    assert not declaration.is_complete


def test_incidental_falls_away_with_its_reason_and_stays_without_one() -> None:
    """Art. 19(1)(g)(i), (ii): impurities and technical aids; a recorded decision is asked for."""
    with_reason = amount("Hexane", "0.001", incidental=True, incidental_reason="solvent of the extract")
    without = amount("Acetone", "0.001", incidental=True)

    declaration = declare_eu(product(amount("Aqua", "99.998"), with_reason, without))

    assert declaration.names == ("Aqua", "Acetone")
    assert declaration.left_out[0].reason == "solvent of the extract"
    assert [finding.rule for finding in declaration.unknowns] == ["declaration.incidental"]


def test_an_allergen_of_one_percent_or_more_keeps_the_weight_order() -> None:
    """A strong oil: its listed name may not stand after lighter ones (plain reading of Art. 19(1)(g))."""
    declaration = declare_eu(
        product(
            amount("Alcohol Denat.", "95"),
            amount("Lavandula Angustifolia Oil", "4", is_perfume=True),
            amount("Tocopherol", "1"),
        )
    )

    assert declaration.names == ("Alcohol Denat.", "Parfum", "Lavandula Oil/Extract", "Tocopherol")
    assert declaration.notes[0].rule == "declaration.allergen-list"


def test_flavour_is_aroma() -> None:
    """Art. 19(1)(g): perfume and flavour are named parfum and aroma."""
    declaration = declare_eu(product(amount("Cera Alba", "99"), amount("Vanilla", "1", is_flavour=True)))

    assert declaration.names == ("Cera Alba", "Aroma")


def test_names_and_compositions_from_memory_are_facts_to_confirm() -> None:
    """What nobody has read yet is listed, once for each name and ingredient."""
    brought = Contribution("Shea butter", "L-2", point("100"), basis="memory")
    shea = amount("Butyrospermum Parkii Butter", "100", basis="memory", contributions=(brought,))

    facts = declare_eu(product(shea)).facts_from_memory

    assert [fact.key for fact in facts] == ["eu-name:butyrospermum-parkii-butter", "composition:Shea butter"]


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [("0.84", "0.90", "0.84 to 0.9 %"), ("4", "4", "4 %"), ("0", "0.3", "up to 0.3 %")],
)
def test_shares_read_plainly(low: str, high: str, text: str) -> None:
    """A share is a figure, a span or an upper end."""
    assert percent_text(amount("x", span=(low, high)).percent) == text


def test_another_kind_of_product_is_refused() -> None:
    """Thresholds hang on leave-on and rinse-off alone."""
    with pytest.raises(ValueError, match="leave-on or rinse-off"):
        product(amount("Aqua", "100"), kind="oral")
