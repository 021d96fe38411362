"""Essential oils: limits, certificates by product category, the sum in the sun, allergens to name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

import pytest

from formulas.rules.catalogue import catalogue_compositions
from formulas.rules.findings import Finding
from formulas.rules.limits import ProductUse
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.perfume import exceeds_one, oil_limits
from formulas.rules.review import FormulaForReview, prepare
from formulas.rules.review.perfume import check_perfume
from formulas.rules.totals import NestedFormula
from formulas.rules.uselevels import UseLevel, check_use_levels

D = Decimal
BERGAMOT, LEMON = "bergamot-cold-pressed-oil", "lemon-cold-pressed-oil"


def found_in(
    shares: Mapping[str, str],
    kind: str = "leave-on",
    levels: Mapping[str, Sequence[UseLevel]] | None = None,
    nested: Mapping[str, NestedFormula] | None = None,
    category: str = "5A",
) -> dict[str, Finding]:
    """What the question says of these percents with sunflower oil to 100, by the last word of the rule."""
    lines = [FormulaLine(key, key, key, D(each)) for key, each in shares.items()]
    lines.append(FormulaLine("rest", "sunflower-oil", "Sunflower oil", kind="to_100"))
    formula = FormulaForReview(
        tuple(lines),
        ProductUse("rinse-off" if kind == "rinse-off" else "leave-on", "body"),
        catalogue_compositions(),
        nested or {},
        use_levels=levels or {},
        perfume_category=category,
    )
    return {each.rule.removeprefix("perfume."): each for each in check_perfume(prepare(formula))}


@pytest.mark.parametrize(("lemon", "over"), [("1.0", False), ("1.0001", True)])
def test_phototoxic_oils_add_up_to_1(lemon: str, over: bool) -> None:
    """0.2 of 0.4 bergamot and 1.0 of 2.0 lemon make exactly 1 (Tisserand and Young 2014; lemon from memory)."""
    found = found_in({BERGAMOT: "0.2", LEMON: lemon})

    assert ("phototoxic" in found) is over
    if over:
        assert found["phototoxic"].severity == "caution"
        assert "bergamot 0.2 % of 0.4 %" in found["phototoxic"].message


def test_thirds_that_make_1_are_not_over() -> None:
    """0.1 / 0.3 three times is 1 exactly, which no division of Decimals gives."""
    assert not exceeds_one([(D("0.1"), D("0.3"))] * 3)
    assert exceeds_one([(D("0.1"), D("0.3"))] * 3 + [(D("0.0000001"), D(1))])
    assert not exceeds_one([])


def test_what_is_rinsed_off_has_no_phototoxic_limit() -> None:
    """Nor a limit on the skin."""
    assert "phototoxic" not in found_in({BERGAMOT: "2"}, "rinse-off")
    assert "dermal" not in found_in({"lemongrass-oil": "2"}, "rinse-off")


@pytest.mark.parametrize(("percent", "over"), [("0.7", False), ("0.71", True)])
def test_over_a_remembered_limit_is_a_caution(percent: str, over: bool) -> None:
    """Lemongrass 0.7 % (Tisserand and Young 2014, from memory): never a stop."""
    found = found_in({"lemongrass-oil": percent})

    assert ("dermal" in found) is over
    assert not over or found["dermal"].severity == "caution"


def test_a_certificate_in_hand_decides_instead() -> None:
    """With 1 % by the supplier for the product's category, 0.71 % is no finding; for another category it is."""
    own = [UseLevel(None, D(1), source="certificate", basis="supplier", category="5A")]
    other = [UseLevel(None, D(1), source="certificate", basis="supplier", category="9")]

    assert "dermal" not in found_in({"lemongrass-oil": "0.71"}, levels={"lemongrass-oil": own})
    assert "dermal" in found_in({"lemongrass-oil": "0.71"}, levels={"lemongrass-oil": other})


def test_an_oil_without_a_figure_asks_for_its_certificate_once() -> None:
    """Lavender's limit is the supplier's: a note, gone once a level is on record."""
    found = found_in({"lavender-oil": "1"})
    assert found["certificate"].severity == "note"
    assert "product category 5A" in found["certificate"].message

    level = [UseLevel(None, D(2), source="certificate", basis="supplier", category="5A")]
    assert "certificate" not in found_in({"lavender-oil": "1"}, levels={"lavender-oil": level})


def test_an_oil_with_certificates_on_record_is_not_said_to_have_none() -> None:
    """The use levels tell of 5A; the cure is the category, not another use level."""
    level = [UseLevel(None, D("0.2"), source="certificate", basis="supplier", category="5A")]

    assert "certificate" not in found_in({"lavender-oil": "4"}, levels={"lavender-oil": level}, category="")
    over = found_in({"lemongrass-oil": "0.71"}, levels={"lemongrass-oil": level}, category="")
    assert over["dermal"].cure.startswith("Lower it to 0.7 %, or write the product category on the formula")


def test_an_oil_inside_a_premix_is_found() -> None:
    """Half of a premix with 1 % bergamot brings 0.5, over 0.4."""
    inner = resolve(
        (FormulaLine("b", BERGAMOT, "Bergamot", D(1)), FormulaLine("o", "sunflower-oil", "Oil", D(99)))
    )

    found = found_in({"base": "50"}, nested={"base": NestedFormula("base", "Base", inner)})

    assert found["phototoxic"].lines == ("base",)


@pytest.mark.parametrize(("kind", "percent", "named"), [("leave-on", "0.0022", False), ("leave-on", "0.0023", True),
                                                        ("rinse-off", "0.0023", False)])  # fmt: skip
def test_allergens_over_the_threshold_are_named(kind: str, percent: str, named: bool) -> None:
    """Linalool, at most 45 % of lavender oil, and linalyl acetate, at most 47 % (Ph. Eur.; ISO 3515):
    0.0022 % brings 0.00103 % of the second, over 0.001 % of what stays on the skin."""
    message = found_in({"lavender-oil": percent}, kind).get("allergens")

    assert (message is not None and "Linalool" in message.message) is named


def test_the_products_own_category_wins_over_general_levels() -> None:
    """Category 5A allows 1, in general 3: at 2 it stops; a level of category 9 says nothing beside the general one.
    Where the formula names no category, it isn't known which certificate decides."""
    general = UseLevel(None, D(3), source="sheet", basis="supplier")
    own = UseLevel(None, D(1), source="certificate", basis="supplier", category="5A")
    other = UseLevel(None, D("0.1"), source="certificate", basis="supplier", category="9")
    lines = resolve(
        (FormulaLine("p", "p", "Perfume", D(2)), FormulaLine("o", "o", "Oil", kind="to_100"))
    ).lines

    (found,) = check_use_levels(lines, {"p": [general, own, other]}, "leave-on", category="5a")
    assert found.severity == "stop"
    assert "1 % is the most in product category 5A" in found.message
    assert check_use_levels(lines, {"p": [general, other]}, "leave-on", category="5A") == ()
    (open_,) = check_use_levels(lines, {"p": [general, own, other]}, "leave-on")
    assert (open_.severity, open_.rule) == ("unknown", "uselevels.category")


def test_every_row_is_a_substance_of_the_reference_with_its_source() -> None:
    """A memory figure says so; none is 0."""
    for row in oil_limits().values():
        assert row.source
        assert row.basis in {"memory", "read"}
        assert row.dermal_max is None or row.dermal_max > 0
