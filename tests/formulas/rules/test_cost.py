"""What a unit costs, margin and markup: worked examples reckoned by hand, and what must always hold.

The definitions of margin (on the price) and markup (on the cost) are common practice, no source. Minor units of
currencies: ISO 4217, from memory.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.cost import Paid, Rate, Recipe, UnitPrice, dearer, paid_price, prices_through
from formulas.rules.currencies import is_currency, minor_places
from formulas.rules.estimate import (
    Amount,
    Estimate,
    Making,
    Part,
    estimate,
    judge,
    margin_of,
    markup_of,
    price_for_margin,
    price_for_markup,
    to_charge,
)
from formulas.rules.percent import FormulaLine, resolve

D, F = Decimal, Fraction
MAY, JUNE = date(2026, 5, 1), date(2026, 6, 1)


def price(amount: str, quantity: str = "1", name: str = "Mallow oil") -> UnitPrice:
    """A price in the maker's own currency."""
    return paid_price(name, Paid(JUNE, D(amount), "EUR", D(quantity)), "EUR", key=name)


def recipe(*lines: tuple[str, str], strained: Sequence[str] = ()) -> Recipe:
    """Percent lines by name; "to 100" as the percent makes that line."""
    made = [
        FormulaLine(name, name, name, None, "to_100")
        if percent == "to 100"
        else FormulaLine(name, name, name, D(percent))
        for name, percent in lines
    ]
    return Recipe("Balm, version 1", resolve(made), frozenset(strained))


FULL = Making(D(60), D(4), 25, D(90), D(24), D(10), "EUR")
"""60 g filled, 4 % lost, 25 units in 90 minutes at 24 EUR, 10 % overhead."""


def worked(making: Making = FULL) -> Estimate:
    """The worked example: oil 80 % at 0.02 EUR/g, wax to 100 at 0.05 EUR/g; a tin of 1.10, two stickers of 0.05."""
    return estimate(
        recipe(("oil", "80"), ("wax", "to 100")),
        {"oil": price("10", "500", "oil"), "wax": price("50", "1000", "wax")},
        [Part("1", "tin", 1, price("110", "100")), Part("2", "sticker", 2, price("5", "100"))],
        making,
    )


# -- a unit, by hand


def test_the_worked_example_adds_up_line_by_line() -> None:
    """By hand: 60/0.96 = 62.5 g go in; oil 50 g x 0.02 = 1.00; wax 12.5 g x 0.05 = 0.625; packaging 1.10 + 0.10;
    work 1.5 h x 24 / 25 = 1.44; together 4.265; overhead 0.4265; a unit 4.6915.
    """
    found = worked()

    assert [line.grams for line in found.materials] == [F(50), F(25, 2)]
    assert [line.cost.exact for line in found.materials] == [F(1), F(5, 8)]
    assert found.goes_in == D("62.5")
    assert found.parts_sum.amount == D("1.2")
    assert found.work.amount == D("1.44")
    assert found.overhead.amount == D("0.4265")
    assert found.total.amount == D("4.6915")
    assert found.is_complete


@pytest.mark.parametrize(
    ("left_out", "gap"),
    [
        ({"loss": None}, "loss_percent"),
        ({"batch_minutes": None}, "batch_minutes"),
        ({"batch_units": None}, "batch_units"),
        ({"labour_per_hour": None}, "labour_per_hour"),
        ({"overhead": None}, "overhead_percent"),
    ],
)
def test_what_is_not_written_down_is_named_and_the_total_is_at_least_that_much(
    left_out: dict[str, None], gap: str
) -> None:
    """Unknown is not zero: no exact total, and what is known stays below the full one."""
    facts = {name: getattr(FULL, name) for name in FULL.__dataclass_fields__}
    found = worked(Making(**{**facts, **left_out}))

    assert [one.key for one in found.gaps] == [gap]
    assert found.total.exact is None
    assert 0 < found.total.at_least < F("4.6915")


def test_zero_minutes_and_zero_percent_are_figures() -> None:
    """Written as 0 they are known: 60 g x (0.8 x 0.02 + 0.2 x 0.05) + 1.20 = 2.76."""
    found = worked(Making(D(60), D(0), None, D(0), None, D(0), "EUR"))

    assert found.is_complete
    assert found.total.amount == D("2.76")


def test_an_unknown_price_is_listed_and_the_total_says_at_least() -> None:
    """Wax without a price: the oil's 1.00 and the rest are there, the total is not complete."""
    found = estimate(recipe(("oil", "80"), ("wax", "20")), {"oil": price("10", "500", "oil")}, [], FULL)

    assert [(gap.kind, gap.key) for gap in found.gaps] == [("ingredient", "wax")]
    assert found.materials_sum.exact is None
    assert found.materials_sum.at_least == 1
    assert found.total.amount is None
    assert found.total.at_least == F("2.684")  # (1.00 + 1.44) x 1.1


def test_a_formula_that_does_not_make_100_is_not_complete() -> None:
    """80 + 10: what the lines cost is a lower end alone."""
    prices = {"oil": price("1", "50", "oil"), "wax": price("1", "20", "wax")}
    found = estimate(recipe(("oil", "80"), ("wax", "10")), prices, [], FULL)

    assert [gap.kind for gap in found.gaps] == ["formula"]
    assert "90" in found.gaps[0].text
    assert found.total.exact is None


def test_what_is_strained_out_is_paid_for() -> None:
    """An infusion of 80 oil at 0.02 and 20 herb at 0.10 leaves 80: (1.6 + 2.0) / 80 = 0.045 EUR/g."""
    made = {"infusion": ("infusion", recipe(("oil", "80"), ("herb", "20"), strained=["herb"]))}
    found = prices_through(
        ["infusion"], {"oil": price("1", "50", "oil"), "herb": price("1", "10", "herb")}, made
    )

    assert found["infusion"].amount == D("0.045")
    assert "80 %" in found["infusion"].why


def test_an_adjust_line_is_reckoned_with_the_most_it_may_take() -> None:
    """Acid 0 to 0.5 % on top at 0.20 EUR/g in 60 g: 0.06."""
    acid = FormulaLine("acid", "acid", "acid", None, "adjust", D(0), D("0.5"))
    lines = [FormulaLine("oil", "oil", "oil", None, "to_100"), acid]
    made = Recipe("Cream, version 1", resolve(lines))
    found = estimate(
        made, {"oil": price("0"), "acid": price("20", "100", "acid")}, [], Making(D(60), loss=D(0))
    )

    assert found.materials[1].cost.amount == D("0.06")
    assert "most" in found.materials[1].cost.why


def test_a_formula_that_contains_itself_is_unknown_not_endless() -> None:
    """Such records can't be written; a restored house could hold them."""
    made = {
        "one": ("one", recipe(("two", "100"))),
        "two": ("two", recipe(("one", "100"))),
    }

    assert prices_through(["one"], {}, made)["one"].exact is None


def test_three_thirds_are_one() -> None:
    """1 EUR for 3 g: a third has no end as a Decimal, three of them are 1 exactly."""
    found = estimate(recipe(("oil", "100")), {"oil": price("1", "3")}, [], Making(D(3), D(0)))

    assert found.materials_sum.amount == 1


# -- prices


def test_a_foreign_price_is_unknown_without_a_rate_and_says_what_to_do() -> None:
    """With 0.86 EUR for 1 USD, 50 USD for 1000 g are 0.043 EUR/g."""
    paid = Paid(JUNE, D(50), "USD", D(1000), "Tern Oils")
    without = paid_price("Mallow oil", paid, "EUR")
    rated = paid_price("Mallow oil", Paid(*_fields(paid), rate=Rate(MAY, D("0.86"), "bank")), "EUR")

    assert without.exact is None
    assert without.foreign == "USD"
    assert "1 USD" in without.cure
    assert rated.amount == D("0.043")
    assert "1 USD = 0.86 EUR" in rated.why


def _fields(paid: Paid) -> tuple[date, Decimal, str, Decimal, str]:
    return paid.on, paid.amount, paid.currency, paid.quantity, paid.seller


def test_a_price_reckoned_dearer_says_so() -> None:
    """0.02 and 12 % more: 0.0224."""
    found = dearer(price("10", "500"), F(12))

    assert found.amount == D("0.0224")
    assert "12 % dearer" in found.why


# -- margin and markup


def test_margin_and_markup_of_one_price() -> None:
    """Cost 4, price 10: 60 % margin, 150 % markup. Cost 4 at 50 %: margin asks 8, markup asks 6."""
    assert margin_of(F(10), F(4)) == 60
    assert markup_of(F(10), F(4)) == 150
    assert price_for_margin(F(4), D(50)) == 8
    assert price_for_markup(F(4), D(50)) == 6


def test_a_margin_of_everything_has_no_price() -> None:
    """Nor has a markup below nothing; a price of 0 has no margin and a cost of 0 no markup."""
    with pytest.raises(ValueError, match="100"):
        price_for_margin(F(4), D(100))
    with pytest.raises(ValueError, match="0"):
        price_for_markup(F(4), D(-1))
    assert margin_of(F(0), F(4)) is None
    assert markup_of(F(4), F(0)) is None


def test_a_loss_has_a_margin_below_zero() -> None:
    """Cost 5, price 4: -25 % margin, -20 % markup."""
    assert margin_of(F(4), F(5)) == -25
    assert markup_of(F(4), F(5)) == -20


@pytest.mark.parametrize(
    ("now", "total", "standing"),
    [
        ("8.00", Amount(F(4), F(4)), "holds"),
        ("7.9999", Amount(F(4), F(4)), "under"),
        ("8.00", Amount(None, F(4)), "unknown"),
        ("7.99", Amount(None, F(4)), "under"),
        (None, Amount(F(4), F(4)), "unknown"),
    ],
)
def test_under_its_margin_is_strict_and_certain(now: str | None, total: Amount, standing: str) -> None:
    """At the wanted 50 % is not under it; an incomplete cost can prove "under" but never "holds"."""
    assert judge(None if now is None else D(now), total, D(50), None).standing == standing


def test_a_price_a_third_short_is_told_without_rounding() -> None:
    """Cost 1/3 at 50 % margin asks 2/3: 0.6667 holds, 0.6666 doesn't."""
    cost = Amount(F(1, 3), F(1, 3))

    assert judge(D("0.6667"), cost, D(50), None).standing == "holds"
    assert judge(D("0.6666"), cost, D(50), None).standing == "under"


def test_of_both_wanted_the_higher_price_counts_and_of_none_nothing_is_judged() -> None:
    """Margin 50 % of cost 4 asks 8, markup 200 % asks 12."""
    cost = Amount(F(4), F(4))

    assert judge(D(10), cost, D(50), D(200)).needed == 12
    assert judge(D(10), cost, None, None).standing == "none"


@pytest.mark.parametrize(
    ("exact", "places", "shown"),
    [(F(20, 3), 2, "6.67"), (F(8), 2, "8.00"), (F(801, 100), 0, "9"), (F(20, 3), 3, "6.667")],
)
def test_a_price_to_charge_is_rounded_up_to_the_minor_unit(exact: Fraction, places: int, shown: str) -> None:
    """Rounded down it would miss what is wanted; an exact one stays."""
    assert str(to_charge(exact, places)) == shown


@pytest.mark.parametrize(("code", "places"), [("EUR", 2), ("USD", 2), ("GBP", 2), ("JPY", 0), ("KWD", 3)])
def test_minor_units_are_those_of_the_standard(code: str, places: int) -> None:
    """ISO 4217, from memory."""
    assert is_currency(code)
    assert minor_places(code) == places
    assert not is_currency("XQZ")


# -- what always holds

money = st.decimals("0.0001", "9999", places=4)
percents = st.decimals("0", "99.99", places=2)


@given(money, percents)
def test_margin_and_its_price_are_inverse(cost: Decimal, margin: Decimal) -> None:
    """The price for a margin has that margin, exactly."""
    assert margin_of(price_for_margin(F(cost), margin), F(cost)) == F(margin)


@given(money, st.decimals("0", "9999", places=2))
def test_markup_and_its_price_are_inverse(cost: Decimal, markup: Decimal) -> None:
    """The price for a markup has that markup, exactly."""
    assert markup_of(price_for_markup(F(cost), markup), F(cost)) == F(markup)


@given(money, percents)
def test_one_price_read_both_ways(cost: Decimal, margin: Decimal) -> None:
    """Markup is margin / (100 - margin) x 100: never below the margin."""
    wanted = price_for_margin(F(cost), margin)

    assert markup_of(wanted, F(cost)) == F(margin) * 100 / (100 - F(margin))


@given(money, percents, st.integers(0, 3))
def test_a_charged_price_reaches_its_margin_and_one_step_less_does_not(
    cost: Decimal, margin: Decimal, places: int
) -> None:
    """Rounding up never falls short, and never by more than a step."""
    needed = price_for_margin(F(cost), margin)
    charged = F(to_charge(needed, places))

    assert charged >= needed > charged - F(1, 10**places)


shares = st.lists(st.integers(1, 1000), min_size=1, max_size=8)


def of_shares(weights: list[int]) -> list[tuple[str, str]]:
    """Lines in whole percents, the last one to 100."""
    total = sum(weights) + 1
    parts = [(f"i{at}", str(max(1, weight * 90 // total))) for at, weight in enumerate(weights)]
    return [*parts, ("rest", "to 100")]


@given(shares, st.lists(money, min_size=9, max_size=9), st.randoms(use_true_random=False), percents)
def test_costs_add_up_and_the_order_of_lines_never_matters(
    weights: list[int], amounts: list[Decimal], chance: random.Random, loss: Decimal
) -> None:
    """The total is the sum of its lines and grams conserve what goes in, in any order, exactly."""
    lines = of_shares(weights)
    prices = {name: price(str(amount), "7", name) for (name, _), amount in zip(lines, amounts, strict=False)}
    parts = [Part(str(at), f"part {at}", at, price(str(amounts[at]), "3")) for at in (1, 2)]
    making = Making(D(50), loss, 7, D(11), D("17.5"), D("12.5"))
    first = estimate(recipe(*lines), prices, parts, making)
    chance.shuffle(lines)
    chance.shuffle(parts)
    other = estimate(recipe(*lines), prices, parts, making)
    sums = (first.materials_sum, first.parts_sum, first.work, first.overhead)

    assert first.is_complete
    assert first.total.exact == other.total.exact == sum(one.at_least for one in sums)
    assert first.materials_sum.exact == sum(line.cost.at_least for line in first.materials)
    assert sum((line.grams or 0) for line in first.materials) == F(50) * 100 / (100 - F(loss))


@given(shares, st.lists(money, min_size=9, max_size=9))
def test_a_nested_formula_costs_what_its_parts_cost(weights: list[int], amounts: list[Decimal]) -> None:
    """Through three levels, each the whole of the next, a gram costs the same."""
    lines = of_shares(weights)
    bought = {name: price(str(amount), "7", name) for (name, _), amount in zip(lines, amounts, strict=False)}
    made = {"inner": ("inner", recipe(*lines)), "middle": ("middle", recipe(("inner", "100")))}
    found = prices_through(["middle"], bought, made)
    shared = recipe(*lines).formula.lines
    plain = sum(F(line.percent or 0) * bought[line.ingredient].at_least / 100 for line in shared)

    assert found["middle"].exact == plain
