"""Which formulas hold a substance, through premixes, and where that can't be told. Figures worked by hand."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.composition import Composition, Constituent
from formulas.rules.holdings import holding, reaching
from formulas.rules.interval import Interval
from formulas.rules.percent import FormulaLine, ResolvedFormula, resolve
from formulas.rules.totals import NestedFormula, substance_totals
from tests.formulas.rules.strategies import complete_formulas, point_compositions

D = Decimal


def made(*parts: tuple[str, str]) -> ResolvedFormula:
    """A formula of (ingredient, percent) pairs."""
    return resolve(FormulaLine(f"line-{name}", name, name, D(percent)) for name, percent in parts)


def one(key: str, *more: Constituent, stated: bool = False) -> Composition:
    """An ingredient that is the substance of its own name, with what stands within."""
    return Composition(key, key, (Constituent(key, key, typical=D(100)), *more), within_stated=stated)


LAVENDER = one("lavender", Constituent("linalool", "Linalool", "within", D(20), None, D(45)))
WAX, OIL = one("wax"), one("oil")
PREMIX = NestedFormula("premix", "premix", made(("lavender", "10"), ("oil", "90")))
PAPER = {"lavender": LAVENDER, "wax": WAX, "oil": OIL}


def test_what_stands_within_an_oil_of_a_premix_is_found_with_its_way() -> None:
    """5 % of a premix with 10 % lavender of 20 to 45 % linalool: 0.1 to 0.225 %."""
    found = holding(made(("premix", "5"), ("wax", "95")), PAPER, {"premix": PREMIX}, "linalool")

    assert found.answer == "yes"
    assert found.amount == Interval(D("0.1"), D("0.225"))
    assert [[step.name for step in way.path] for way in found.ways] == [["premix", "lavender"]]
    assert found.doubts == ()


def test_a_share_that_begins_at_nothing_may_be_there() -> None:
    """At most 0.5 % within: perhaps none."""
    trace = one("oil", Constituent("linalool", "Linalool", "within", None, None, D("0.5")))
    found = holding(made(("oil", "100")), {"oil": trace}, {}, "linalool")

    assert (found.answer, found.amount) == ("may", Interval(D(0), D("0.5")))


def test_an_unknown_composition_leaves_it_open_and_is_never_a_no() -> None:
    """Whether beside a known way or alone."""
    open_ended = holding(made(("mystery", "3"), ("wax", "97")), PAPER, {}, "linalool")
    beside = holding(made(("mystery", "3"), ("lavender", "97")), PAPER, {}, "linalool")

    assert (open_ended.answer, open_ended.amount) == ("unknown", None)
    assert [(doubt.path, doubt.percent.high) for doubt in open_ended.doubts] == [(("mystery",), D(3))]
    assert (beside.answer, len(beside.doubts)) == ("yes", 1)


def test_everything_known_and_not_there_is_no() -> None:
    """Wax and oil hold no linalool."""
    found = holding(made(("wax", "50"), ("oil", "50")), PAPER, {}, "linalool")

    assert (found.answer, found.ways, found.doubts) == ("no", (), ())


def test_what_is_missing_from_100_may_be_anything() -> None:
    """A draft at 97 %."""
    found = holding(made(("wax", "97")), PAPER, {}, "linalool")

    assert found.answer == "unknown"
    assert found.doubts[0].percent == Interval.point(D(3))


def test_a_silent_perfume_may_hold_any_allergen_that_it_does_not_list() -> None:
    """It does list linalool, and says nothing of limonene; inside a premix as well."""
    formula = made(("premix", "5"), ("wax", "95"))
    for substance, answer in (("linalool", "yes"), ("limonene", "unknown")):
        found = holding(formula, PAPER, {"premix": PREMIX}, substance, unstated={"lavender"})
        assert found.answer == answer
    assert found.doubts[0].path == ("premix", "lavender")
    assert found.doubts[0].percent == Interval.point(D("0.5"))


def test_which_ingredients_need_a_look() -> None:
    """Those that bring it, those not known, those not complete, and what is made from any of them."""
    half = Composition("half", "half", (Constituent("wax", "wax", low=D(10), high=D(40)),))
    outer = NestedFormula("outer", "outer", made(("premix", "50"), ("wax", "50")))
    short = NestedFormula("short", "short", made(("wax", "90")))
    loop = NestedFormula("loop", "loop", made(("loop", "50"), ("wax", "50")))
    nested = {"premix": PREMIX, "outer": outer, "short": short, "loop": loop}
    every = ("lavender", "wax", "oil", "half", "mystery", *nested)

    found = reaching("linalool", {**PAPER, "half": half}, nested, every)

    assert found == {"lavender", "half", "mystery", "premix", "outer", "short"}


@given(st.data())
def test_the_amount_is_that_of_the_totals_and_only_what_reaches_matters(data: st.DataObject) -> None:
    """For any complete formula: the same figure as the sum, and no way in by an ingredient left aside."""
    formula = resolve(data.draw(complete_formulas()))
    keys = sorted({line.ingredient for line in formula.lines})
    compositions = {key: data.draw(point_compositions(key)) for key in keys}
    totals = substance_totals(formula.lines, compositions)
    for substance in sorted(totals.names):
        found = holding(formula, compositions, {}, substance)
        asked = reaching(substance, compositions, {}, keys)
        assert found.amount == totals.amount_of(substance)
        assert {way.path[-1].ingredient for way in found.ways} <= asked
