"""What straining leaves: limits by conserved mass, reckoned by hand; no outside source."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.composition import Composition, Constituent
from formulas.rules.interval import Interval
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.straining import Way, kept_way, strained_way
from formulas.rules.totals import NestedFormula, Totals, substance_totals
from formulas.rules.uselevels import UseLevel, check_use_levels

HERBS = st.lists(
    st.tuples(st.integers(1, 999), st.integers(0, 100), st.integers(0, 100)), min_size=1, max_size=4
)


def point(value: str) -> Interval:
    """A share of one figure."""
    return Interval.point(Decimal(value))


def whole(way: Way | None) -> Interval:
    """Percent of what is left that the line as such makes."""
    assert way is not None
    return way.whole


def holds(limits: Interval, value: Fraction) -> bool:
    """The value is between the ends."""
    assert limits.low is not None
    assert limits.high is not None
    return Fraction(limits.low) <= value <= Fraction(limits.high)


@given(st.lists(st.integers(1, 999), min_size=1, max_size=4), HERBS, st.integers(1, 99))
def test_every_true_mixture_is_within(
    kept: list[int], herbs: list[tuple[int, int, int]], active: int
) -> None:
    """herbs: parts, percent that dissolves of one substance (``active`` % of the herb), and of the rest of it."""
    everything = sum(kept) + sum(parts for parts, _, _ in herbs)
    shares = [Decimal(parts * 10000 // everything) / 100 for parts, _, _ in herbs]
    out = sum(shares, Decimal(0))
    liquid = [Decimal(parts * 10000 // everything) / 100 for parts in kept]
    liquid[-1] = Decimal(100) - out - sum(liquid[:-1], Decimal(0))
    substance = [
        Fraction(share) * active * part / 10000 for share, (_, part, _) in zip(shares, herbs, strict=True)
    ]
    rest = [
        Fraction(share) * (100 - active) * part / 10000
        for share, (_, _, part) in zip(shares, herbs, strict=True)
    ]
    weight = Fraction(100 - out) + sum(substance) + sum(rest)

    for percent in liquid:
        assert holds(whole(kept_way(Interval.point(percent), out)), Fraction(percent) * 100 / weight)
    for percent, dissolved, other in zip(shares, substance, rest, strict=True):
        way = strained_way(Interval.point(percent), out)
        assert way is not None
        assert holds(way.whole, (dissolved + other) * 100 / weight)
        assert holds(way.of(Interval.point(Decimal(active))), dissolved * 100 / weight)


def test_a_herb_makes_no_more_than_went_in_and_a_substance_of_it_no_less_than_may_dissolve_alone() -> None:
    """20 % herb in oil: 20 of 100 at most. 1 % of the herb alone: 0.2 in 80.2 parts, more than 1 % of 20 %."""
    way = strained_way(point("20"), Decimal(20))
    assert way is not None

    assert way.whole == Interval(Decimal(0), Decimal(20))
    most = way.of(point("1")).high
    assert most is not None
    assert Decimal("0.2") < Decimal("0.2493") < most < Decimal("0.2494")
    assert Fraction(most) >= Fraction(2, 10) * 100 / Fraction(802, 10)


def test_what_is_left_of_two_herbs_may_be_of_one_alone() -> None:
    """10 % each in 80 % oil: 10 of 90 parts at most, when the other gives nothing."""
    most = whole(strained_way(point("10"), Decimal(20))).high

    assert most is not None
    assert Decimal("11.11") < most < Decimal("11.12")


def test_nothing_strained_changes_nothing_and_all_strained_leaves_nothing_to_say() -> None:
    assert whole(kept_way(point("40"), Decimal(0))) == point("40")
    assert kept_way(point("1"), Decimal(100)) is None
    assert strained_way(point("100"), Decimal(100)) is None


@given(st.lists(st.tuples(st.integers(1, 60), st.booleans()), min_size=1, max_size=4), st.integers(1, 100))
def test_a_way_through_several_strainings_bounds_what_may_dissolve(
    levels: list[tuple[int, bool]], active: int
) -> None:
    """At each level so much of the one below in 100 parts, strained out or not; the substance goes over whole and
    alone at each that strains, and stays with what it is in at the others."""
    path, part = Way(point("100")), Fraction(active, 100)
    for percent, strained in levels:
        out = Decimal(percent) if strained else Decimal(0)
        way = (strained_way if strained else kept_way)(Interval.point(Decimal(percent)), out)
        assert way is not None
        path = path.then(way)
    for percent, strained in reversed(levels):
        goes_over = percent * part
        part = goes_over / ((100 - percent) + goes_over) if strained else goes_over / 100

    assert holds(path.of(Interval.point(Decimal(active))), part * 100)
    assert (path.whole.high or 0) <= 100


def infused(herb: str, *, leaves: tuple[str, str] | None = None) -> Totals:
    """Half of a product is an infusion of an oil with so much herb, strained out; half is wax."""
    oil = [FormulaLine("o", "oil", "Oil", kind="to_100")] if herb != "100" else []
    petals = FormulaLine("h", "herb", "Herb", Decimal(herb), strained=True, leaves=leaves)
    infusion = NestedFormula("infusion", "Infusion", resolve([petals, *oil]))
    lines = resolve(
        [FormulaLine("a", "infusion", "Infusion", Decimal(50)), FormulaLine("b", "wax", "Wax", Decimal(50))]
    ).lines
    known = {
        key: Composition(
            key, key, (Constituent(f"{key}-inci", f"{key} INCI", "declared", None, Decimal(100), None),)
        )
        for key in ("herb", "oil", "wax")
    }
    return substance_totals(lines, known, {"infusion": infusion})


def test_a_product_holds_of_a_strained_herb_from_nothing_on() -> None:
    """5 % petals in 95 % oil, half of the product: oil 47.5 to 50 %, of the petals 0 to 2.5 %."""
    totals = infused("5")
    herb, oil = totals.amount_of("herb-inci"), totals.amount_of("oil-inci")

    assert herb is not None
    assert oil is not None
    assert (herb.low, herb.high) == (Decimal(0), Decimal("2.5"))
    assert (oil.low, oil.high) == (Decimal("47.5"), Decimal(50))
    assert (herb.high or 0) + (oil.low or 0) == 50
    [way] = totals.contributions_of("herb-inci")
    assert [step.said for step in way.path] == ["Infusion", "Herb, strained out"]


def test_what_a_herb_leaves_has_its_own_name() -> None:
    totals = infused("5", leaves=("herb-extract", "Herb Extract"))

    assert totals.amount_of("herb-inci") is None
    assert totals.names["herb-extract"] == "Herb Extract"


def test_an_infusion_of_which_all_is_strained_out_is_unknown() -> None:
    [unknown] = infused("100").unknown

    assert unknown.percent == point("50")
    assert "strains everything out" in unknown.reason


def test_a_formula_that_is_sold_strained_counts_so_itself() -> None:
    """Not only as an ingredient: an infused oil in its own bottle."""
    petals = FormulaLine("h", "herb", "Herb", Decimal(20), strained=True)
    lines = resolve([petals, FormulaLine("o", "oil", "Oil", Decimal(80))]).lines
    known = {
        key: Composition(
            key, key, (Constituent(f"{key}-inci", f"{key} INCI", "declared", None, Decimal(100), None),)
        )
        for key in ("herb", "oil")
    }

    totals = substance_totals(lines, known)

    assert totals.amount_of("herb-inci") == Interval(Decimal(0), Decimal(20))
    assert totals.amount_of("oil-inci") == Interval(Decimal(80), Decimal(100))
    level = {"herb": [UseLevel(None, Decimal(18), "any", "A book", "read")]}
    [finding] = check_use_levels(lines, level, "leave-on")
    assert finding.message.startswith(
        "Herb stands at 0 to 20 % (strained out, as far as it dissolves); 18 % is"
    )
    assert "isn't known" in finding.cure
