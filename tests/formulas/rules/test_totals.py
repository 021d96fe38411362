"""Substances of the finished product, through premixes to any depth."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from formulas.rules.composition import Composition, Constituent
from formulas.rules.interval import Interval
from formulas.rules.number import exact_sum
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.totals import FormulaCycle, NestedFormula, Totals, substance_totals
from tests.formulas.rules.strategies import complete_formulas, mixed_compositions, point_compositions

D = Decimal


def pure(key: str) -> Composition:
    """One substance, all of it."""
    return Composition(key, key, (Constituent(key, key, typical=D(100)),))


def nested(key: str, *parts: tuple[str, str]) -> NestedFormula:
    """An in-house ingredient from (ingredient, percent) pairs."""
    lines = [FormulaLine(f"{key}-{name}", name, name, D(percent)) for name, percent in parts]
    return NestedFormula(key, key, resolve(lines))


def lines(*parts: tuple[str, str]) -> list[FormulaLine]:
    """Lines from (ingredient, percent) pairs."""
    return [FormulaLine(name, name, name, D(percent)) for name, percent in parts]


def mass(totals: Totals) -> Decimal:
    """Known and unknown shares together; all points here."""
    known = [total.amount.low or D(0) for total in totals.declared]
    return exact_sum([*known, *(share.percent.low or D(0) for share in totals.unknown)])


def test_a_premix_in_a_premix_is_opened() -> None:
    """10 % of a premix that is half a premix of a tenth oil brings 0.5 % oil, and says by which way."""
    inner = nested("inner", ("oil", "10"), ("wax", "90"))
    outer = nested("outer", ("inner", "50"), ("wax", "50"))

    totals = substance_totals(
        resolve(lines(("outer", "10"), ("wax", "90"))).lines,
        {"oil": pure("oil"), "wax": pure("wax")},
        {"inner": inner, "outer": outer},
    )

    oil = totals.contributions_of("oil")
    assert [part.amount for part in oil] == [Interval.point(D("0.5"))]
    assert [step.name for step in oil[0].path] == ["outer", "inner", "oil"]
    assert totals.amount_of("wax") == Interval.point(D("99.5"))


def test_a_formula_that_contains_itself_is_refused_with_its_path() -> None:
    """a is made from b, b from a."""
    a, b = nested("a", ("b", "100")), nested("b", ("a", "100"))

    with pytest.raises(FormulaCycle, match="a → b → a"):
        substance_totals(resolve(lines(("a", "100"))).lines, {}, {"a": a, "b": b})


def test_an_ingredient_without_composition_is_an_unknown_share() -> None:
    """It is reported with its percent, through the premix that brings it, and never as 0."""
    premix = nested("premix", ("mystery", "25"), ("wax", "75"))

    totals = substance_totals(
        resolve(lines(("premix", "8"), ("wax", "92"))).lines, {"wax": pure("wax")}, {"premix": premix}
    )

    assert [(share.line, share.percent.low) for share in totals.unknown] == [("premix", D(2))]
    assert mass(totals) == D(100)


def test_a_premix_short_of_100_leaves_an_unknown_share() -> None:
    """A premix of 99 % leaves a hundredth of its line unknown."""
    totals = substance_totals(
        resolve(lines(("p", "10"), ("wax", "90"))).lines,
        {"wax": pure("wax")},
        {"p": nested("p", ("wax", "99"))},
    )

    assert [share.percent.low for share in totals.unknown] == [D("0.1")]
    assert mass(totals) == D(100)


def test_declared_and_within_are_kept_apart() -> None:
    """Benzyl alcohol as preservative and within a perfume: two kinds, one total."""
    perfume = Composition(
        "perfume",
        "perfume",
        (
            Constituent("parfum", "Parfum", typical=D(100)),
            Constituent("benzyl-alcohol", "Benzyl Alcohol", "within", D(1), None, D(5)),
        ),
    )
    totals = substance_totals(
        resolve(lines(("benzyl-alcohol", "0.5"), ("perfume", "2"), ("wax", "97.5"))).lines,
        {"perfume": perfume, "wax": pure("wax"), "benzyl-alcohol": pure("benzyl-alcohol")},
    )

    assert [total.amount for total in totals.within] == [Interval(D("0.02"), D("0.1"))]
    assert totals.amount_of("benzyl-alcohol") == Interval(D("0.52"), D("0.6"))


def test_an_adjust_line_brings_a_range() -> None:
    """Lactic acid as needed from 0.1 to 0.5 % counts with both ends."""
    acid = FormulaLine("acid", "acid", "acid", kind="adjust", adjust_low=D("0.1"), adjust_high=D("0.5"))
    totals = substance_totals(
        resolve([*lines(("wax", "100")), acid]).lines, {"acid": pure("acid"), "wax": pure("wax")}
    )

    assert totals.amount_of("acid") == Interval(D("0.1"), D("0.5"))


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_the_order_of_lines_never_changes_totals(data: st.DataObject) -> None:
    """Shuffled lines give the same amounts in the same order: declared, within, and what is unknown.

    Some shares are ranges, some only orders; one ingredient has no composition and one is a formula of its own.
    """
    compositions = {key: data.draw(mixed_compositions(key)) for key in "abc"}
    inner = resolve(data.draw(complete_formulas(("a", "b", "undeclared"), most=3)))
    levels = {"premix": NestedFormula("premix", "premix", inner)}
    formula = data.draw(complete_formulas(("a", "b", "c", "undeclared", "premix")))
    shuffled = data.draw(st.permutations(formula))

    before, after = (
        substance_totals(resolve(lines).lines, compositions, levels) for lines in (formula, shuffled)
    )

    def said(totals: Totals) -> tuple[list[object], ...]:
        unknown = [(part.line, part.percent, part.reason) for part in totals.unknown]
        return (
            [(one.substance, one.amount) for one in totals.declared],
            [(one.substance, one.amount) for one in totals.within],
            sorted(unknown, key=str),
        )

    assert said(before) == said(after)


@settings(deadline=None, max_examples=50)
@given(st.data())
def test_expansion_conserves_mass_exactly(data: st.DataObject) -> None:
    """Six levels deep, known and unknown shares make 100 to the last digit."""
    compositions = {key: data.draw(point_compositions(key)) for key in "abc"}
    levels: dict[str, NestedFormula] = {}
    below: tuple[str, ...] = ("a", "b", "c", "undeclared")
    for depth in range(6):
        key = f"level {depth}"
        levels[key] = NestedFormula(key, key, resolve(data.draw(complete_formulas(below, most=2))))
        below = (key, "a", "b", "undeclared")
    formula = data.draw(complete_formulas(below, most=2))

    totals = substance_totals(resolve(formula).lines, compositions, levels)

    assert mass(totals) == D(100)
