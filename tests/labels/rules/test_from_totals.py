"""From a formula with compositions to its list, by the rules of both worlds together."""

from __future__ import annotations

from decimal import Decimal

from formulas.rules.composition import Composition, Constituent
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.totals import Totals, substance_totals
from formulas.rules.vocabulary import LEAVE_ON
from labels.rules.amounts import ProductAmounts
from labels.rules.declaration import declare_eu, declare_us
from labels.rules.from_totals import IngredientFacts, SubstanceFacts, product_amounts

SUBSTANCES = {
    "aqua": SubstanceFacts("Aqua", "Water", us_name_basis="read"),
    "panthenol": SubstanceFacts("Panthenol", "Panthenol", us_name_basis="confirmed"),
    "lavandula-angustifolia-oil": SubstanceFacts("Lavandula Angustifolia Oil", is_perfume=True),
    "linalool": SubstanceFacts("Linalool", cas="78-70-6"),
    "ci-77947": SubstanceFacts("CI 77947", is_colourant=True),
}
INGREDIENTS = {
    "water": IngredientFacts("Water"),
    "panthenol75": IngredientFacts("Panthenol 75 %"),
    "lavender": IngredientFacts("Lavender oil", is_perfume=True, allergens_stated=True),
    "zinc": IngredientFacts("Zinc oxide"),
}
COMPOSITIONS = {
    "water": Composition("water", "Water", (Constituent("aqua", "Aqua", typical=Decimal(100)),), "supplier"),
    "panthenol75": Composition(
        "panthenol75",
        "Panthenol 75 %",
        (
            Constituent("panthenol", "Panthenol", low=Decimal(74), high=Decimal(76)),
            Constituent("aqua", "Aqua", low=Decimal(24), high=Decimal(26)),
        ),
        "memory",
    ),
    "lavender": Composition(
        "lavender",
        "Lavender oil",
        (
            Constituent("lavandula-angustifolia-oil", "Lavandula Angustifolia Oil", typical=Decimal(100)),
            Constituent("linalool", "Linalool", "within", low=Decimal(20), high=Decimal(45)),
        ),
        "supplier",
        within_stated=True,
    ),
    "zinc": Composition(
        "zinc", "Zinc oxide", (Constituent("ci-77947", "CI 77947", typical=Decimal(100)),), "read"
    ),
}


def _totals(*lines: tuple[str, str, str]) -> Totals:
    return substance_totals(
        resolve(
            FormulaLine(
                key=f"l{number}", name=name, ingredient=name, percent=Decimal(percent), purpose=purpose
            )
            for number, (name, percent, purpose) in enumerate(lines)
        ).lines,
        COMPOSITIONS,
    )


def _amounts(*lines: tuple[str, str, str], labels: dict[str, str] | None = None) -> ProductAmounts:
    return product_amounts(_totals(*lines), SUBSTANCES, INGREDIENTS, product_kind=LEAVE_ON, labels=labels)


def test_blends_open_perfume_is_one_and_allergens_follow() -> None:
    """Water of a solution joins the water; the oil is Parfum; it and its linalool are named."""
    amounts = _amounts(
        ("water", "97.7", ""),
        ("panthenol75", "2", ""),
        ("lavender", "0.3", ""),
        labels={"lavender": "26-L066"},
    )

    declaration = declare_eu(amounts)

    assert declaration.names == ("Aqua", "Panthenol", "Parfum", "Lavandula Oil/Extract", "Linalool")
    assert {part.ingredient for part in declaration.entries[0].contributions} == {"Water", "Panthenol 75 %"}
    assert [part.label for part in declaration.entries[2].contributions] == ["26-L066"]
    assert [fact.key for fact in declaration.facts_from_memory] == ["composition:Panthenol 75 %"]
    assert declaration.is_complete
    assert declare_us(amounts).names == ("Water", "Panthenol", "Fragrance")


def test_purpose_of_the_line_goes_before_the_flags() -> None:
    """Zinc oxide to protect is no colour; lavender for the skin stands under its own name too."""
    declaration = declare_eu(
        _amounts(("water", "94.7", ""), ("zinc", "5", "protects"), ("lavender", "0.3", "soothes"))
    )

    assert declaration.names[:3] == ("Aqua", "Zinc Oxide", "Lavandula Angustifolia Oil")
    assert "declaration.own-name" in {note.rule for note in declaration.notes}


def test_another_purpose_hides_no_allergens() -> None:
    """Annex III names by share, whatever an oil is for: unstated allergens of lavender for the skin, or of a
    flavour, are unknown."""
    unstated = {"water": INGREDIENTS["water"], "lavender": IngredientFacts("Lavender oil")}
    lines = [("water", "99.7", ""), ("lavender", "0.3", "soothes")]

    for purpose in ("soothes", "flavour", "perfume", ""):
        lines[1] = ("lavender", "0.3", purpose)
        amounts = product_amounts(_totals(*lines), SUBSTANCES, unstated, product_kind=LEAVE_ON)
        unknowns = declare_eu(amounts).unknowns

        assert [finding.rule for finding in unknowns] == ["declaration.allergens-unstated"], purpose


def test_a_colour_line_colours() -> None:
    """The same zinc oxide as a pigment goes last under its number."""
    names = declare_eu(
        _amounts(("water", "90", ""), ("zinc", "9.7", "colour"), ("lavender", "0.3", ""))
    ).names

    assert names[-1] == "CI 77947"


def test_unstated_allergens_and_unknown_parts_come_over() -> None:
    """An ingredient without a composition and a perfume without its allergens both block the list."""
    unstated = {**INGREDIENTS, "lavender": IngredientFacts("Lavender oil", is_perfume=True)}
    totals = _totals(("water", "90", ""), ("mystery", "9.7", ""), ("lavender", "0.3", ""))

    declaration = declare_eu(product_amounts(totals, SUBSTANCES, unstated, product_kind=LEAVE_ON))

    assert {finding.rule for finding in declaration.unknowns} == {
        "declaration.unknown-part",
        "declaration.allergens-unstated",
    }


def test_what_was_strained_out_says_so_and_starts_from_nothing() -> None:
    """5 % of a scented herb strained out of water: of its linalool, 20 to 45 %, at most 2.25 in 97.25 is left."""
    lines = resolve(
        [
            FormulaLine("w", "water", "Water", kind="to_100"),
            FormulaLine("l", "lavender", "Lavender", Decimal(5), strained=True),
        ]
    ).lines

    amounts = product_amounts(
        substance_totals(lines, COMPOSITIONS), SUBSTANCES, INGREDIENTS, product_kind=LEAVE_ON
    ).amounts

    [linalool] = [amount for amount in amounts if amount.substance == "linalool"]
    assert linalool.low == 0
    assert linalool.high is not None
    assert Decimal("2.3136") < linalool.high < Decimal("2.3137")
    [way] = linalool.contributions
    assert way.ingredient == "Lavender oil, strained out"
