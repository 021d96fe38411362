"""Use levels by product kind and by who says so."""

from __future__ import annotations

from decimal import Decimal

import pytest

from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.totals import NestedFormula
from formulas.rules.uselevels import UseLevel, check_use_levels, told_by_market
from formulas.rules.vocabulary import MARKET_NAMES
from makers.models import Market

D = Decimal


def at(*percents: str) -> tuple[FormulaLine, ...]:
    """Lines of one ingredient, the rest water."""
    own = [FormulaLine(str(index), "e", "Emulsifier", D(each)) for index, each in enumerate(percents)]
    return (*own, FormulaLine("w", "w", "Water", kind="to_100"))


@pytest.mark.parametrize(
    ("basis", "severity"),
    [("supplier", "stop"), ("confirmed", "stop"), ("read", "caution"), ("memory", "caution")],
)
def test_over_a_level_weighs_as_much_as_who_says_it(basis: str, severity: str) -> None:
    """Only a supplier's document or the maker's own word stops."""
    level = UseLevel(D(2), D(6), "any", "sheet", basis)

    (found,) = check_use_levels(resolve(at("6.5")).lines, {"e": [level]}, "leave-on")

    assert found.severity == severity
    assert found.message.startswith("Emulsifier stands at 6.5 %; 6 % is the most")


def test_two_lines_of_one_ingredient_add_up() -> None:
    """4 and 3 make 7, over 6."""
    found = check_use_levels(resolve(at("4", "3")).lines, {"e": [UseLevel(None, D(6))]}, "leave-on")

    assert [each.lines for each in found] == [("0", "1")]


def test_a_level_of_the_other_kind_does_not_count() -> None:
    """A rinse-off level says nothing about leave-on."""
    level = UseLevel(None, D(6), "rinse-off", "sheet", "supplier")

    assert check_use_levels(resolve(at("7")).lines, {"e": [level]}, "leave-on") == ()


@pytest.mark.parametrize(
    ("form", "rules"), [("bath", []), ("balm", ["uselevels.high"]), ("", ["uselevels.high"])]
)
def test_a_level_of_bath_goods_wins_there_and_says_nothing_elsewhere(form: str, rules: list[str]) -> None:
    """25 % citric acid fizzes in a tub; 2 % is the most on the skin (common practice, no source, both)."""
    levels = [UseLevel(D("0.05"), D(2)), UseLevel(D(5), D(35), "bath")]

    found = check_use_levels(resolve(at("25")).lines, {"e": levels}, "rinse-off", form=form)

    assert [each.rule for each in found] == rules


def test_bath_goods_without_a_level_of_their_own_keep_the_general_one() -> None:
    """And a certificate's category stays."""
    levels = [UseLevel(None, D(6)), UseLevel(None, D(1), category="9")]

    found = check_use_levels(resolve(at("7")).lines, {"e": levels}, "rinse-off", None, "9", "bath")

    assert [each.rule for each in found] == ["uselevels.high"]
    assert "1 % is the most" in found[0].message


@pytest.mark.parametrize(("percent", "rules"), [("6", []), ("2", []), ("1.9", ["uselevels.low"])])
def test_at_a_level_passes_and_below_is_a_note(percent: str, rules: list[str]) -> None:
    """Both ends belong to the range."""
    found = check_use_levels(resolve(at(percent)).lines, {"e": [UseLevel(D(2), D(6))]}, "leave-on")

    assert [each.rule for each in found] == rules
    assert all(each.severity == "note" for each in found)


CERTIFICATES = [
    UseLevel(None, D("0.2"), source="Certificate", basis="supplier", category="5A"),
    UseLevel(None, D(3), source="Certificate", basis="supplier", category="9"),
]


@pytest.mark.parametrize(
    ("percent", "severity", "words"),
    [
        (
            "1", "unknown",
            "stands at 1 %; the certificates on record allow 0.2 % in product category 5A and 3 % in product "
            "category 9, and the formula names none.",
        ),
        ("4", "unknown", "and the formula names none; it is over the most generous of them."),
        ("0.2", "note", "stands at 0.2 %; the certificates on record allow 0.2 %"),
    ],
)  # fmt: skip
def test_certificates_are_told_where_the_formula_names_no_category(
    percent: str, severity: str, words: str
) -> None:
    """0.2 % in category 5A and 3 % in 9: which of them decides isn't known, so neither is passed over."""
    (found,) = check_use_levels(resolve(at(percent)).lines, {"e": CERTIFICATES}, "leave-on")

    assert (found.rule, found.severity, found.source) == ("uselevels.category", severity, "Certificate")
    assert words in found.message
    assert "Write the product category" in found.cure


def test_a_category_without_a_certificate_of_its_own_is_unknown_beside_others() -> None:
    """What 5A allows says nothing sure of category 1; a supplier's figure for every category does."""
    one, every = CERTIFICATES[:1], UseLevel(None, D(3), source="sheet", basis="supplier")
    lines = resolve(at("4")).lines

    (found,) = check_use_levels(lines, {"e": one}, "leave-on", category="1")

    assert found.severity == "unknown"
    assert "allows 0.2 % in product category 5A, and category 1 has none; it is over that." in found.message
    both = check_use_levels(lines, {"e": [*one, every]}, "leave-on", category="1")
    assert [each.rule for each in both] == ["uselevels.high"]


def test_a_certificate_for_another_kind_of_product_is_none() -> None:
    """Rinse-off says nothing of what stays on the skin."""
    level = UseLevel(None, D("0.2"), "rinse-off", "Certificate", "supplier", "9")

    assert check_use_levels(resolve(at("4")).lines, {"e": [level]}, "leave-on") == ()


AUSTRALIA = UseLevel(None, D(5), source="sheet", basis="supplier", market="AU")


@pytest.mark.parametrize(
    ("markets", "severity", "ending"),
    [
        (["EU", "AU"], "stop", "5 % is the most in Australia by the supplier's document."),
        (
            ["EU", "US"],
            "note",
            "5 % is the most in Australia by the supplier's document, where it isn’t sold.",
        ),
        ([], "stop", "5 % is the most in Australia by the supplier's document."),
    ],
)
def test_a_level_of_one_market_counts_where_it_is_sold(
    markets: list[str], severity: str, ending: str
) -> None:
    """What holds for Australia alone stops nothing that is sold to the EU and the US; no market known is any."""
    levels = told_by_market({"e": [AUSTRALIA]}, markets)

    (found,) = check_use_levels(resolve(at("79.5")).lines, levels, "leave-on")

    assert found.severity == severity
    assert found.message == f"Emulsifier stands at 79.5 %; {ending}"


def test_within_a_level_of_a_market_where_it_is_not_sold_nothing_is_said() -> None:
    """Nor does it take the place of the level that counts."""
    own = UseLevel(None, D(1), source="Certificate", basis="supplier", category="5A", market="AU")
    levels = told_by_market({"e": [AUSTRALIA, own, UseLevel(None, D(4))]}, ["EU"])

    found = check_use_levels(resolve(at("4.5")).lines, levels, "leave-on", category="5A")

    assert [(each.severity, each.rule) for each in found] == [
        ("caution", "uselevels.high"), ("note", "uselevels.elsewhere"),
    ]  # fmt: skip


def test_every_market_has_words() -> None:
    """Those that the records know."""
    assert set(MARKET_NAMES) == set(Market.values)


def test_what_premixes_bring_is_counted_to_any_depth() -> None:
    """5 % of a premix that is half of another, 80 % of it ours, brings 2; with 1 of its own, 3: over 2.5.

    Worked by hand: 5 x 0.5 x 0.8 = 2.
    """
    inner = NestedFormula("b", "Inner", resolve((FormulaLine("x", "e", "Emulsifier", D(80)),)))
    outer = NestedFormula("a", "Outer", resolve((FormulaLine("y", "b", "Inner", D(50)),)))
    lines = resolve((FormulaLine("p", "a", "Outer", D(5)), *at("1"))).lines
    levels = {"e": [UseLevel(None, D("2.5"))], "b": [UseLevel(None, D("2.5"))]}

    (found,) = check_use_levels(lines, levels, "leave-on", {"a": outer, "b": inner})

    assert found.message.startswith("Emulsifier stands at 3 %, with what Inner brings; 2.5 % is the most")
    assert found.lines == ("p", "0")


def test_a_formula_within_itself_is_walked_once() -> None:
    """The cycle itself is said by the totals."""
    own = NestedFormula("a", "Outer", resolve((FormulaLine("y", "a", "Outer", D(50)),)))
    lines = resolve((FormulaLine("p", "a", "Outer", D(5)),)).lines

    assert check_use_levels(lines, {"a": [UseLevel(None, D(5))]}, "leave-on", {"a": own}) == ()
