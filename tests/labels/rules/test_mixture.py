"""What a pot holds that took in rework."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.percent import FormulaLine, resolve
from labels.rules.mixture import Part, mixed


def line(ingredient: str, percent: str | None, purpose: str = "") -> FormulaLine:
    """A line of a percent; "to 100" where none is given."""
    return FormulaLine(
        key=ingredient,
        ingredient=ingredient,
        name=ingredient,
        purpose=purpose,
        percent=Decimal(percent) if percent else None,
        kind="percent" if percent else "to_100",
    )


def test_the_percents_are_those_of_the_grams() -> None:
    """By hand: 400 g of 60/40 and 100 g of 50/50 hold 240 + 0, 160 + 50 and 50 g of 500 g."""
    base = Part(Decimal(400), (line("oil", None), line("wax", "40")))
    rework = Part(Decimal(100), (line("butter", "50"), line("wax", "50")))

    found = {row.ingredient: row.percent for row in mixed([base, rework])}

    assert found == {"oil": Decimal(48), "wax": Decimal(42), "butter": Decimal(10)}


def test_rework_of_the_same_formula_changes_nothing() -> None:
    lines = (line("oil", "33.33333333"), line("wax", "66.66666667"))

    found = mixed([Part(Decimal("1234.5"), lines), Part(Decimal("0.7"), lines)])

    assert [(row.ingredient, row.percent) for row in found] == [
        (row.ingredient, row.percent) for row in lines
    ]


def test_one_ingredient_for_two_purposes_stays_two_lines() -> None:
    lines = (line("clay", "90"), line("clay", "10", "colour"))

    found = mixed([Part(Decimal(1), lines), Part(Decimal(3), (line("clay", "100"),))])

    assert [(row.purpose, row.percent) for row in found] == [
        ("", Decimal("97.5")),
        ("colour", Decimal("2.5")),
    ]


def test_an_adjust_line_is_thinned_with_its_part() -> None:
    acid = FormulaLine(
        key="acid",
        ingredient="acid",
        name="acid",
        kind="adjust",
        adjust_low=Decimal(0),
        adjust_high=Decimal(1),
    )

    found = mixed(
        [Part(Decimal(300), (line("water", None), acid)), Part(Decimal(100), (line("oil", "100"),))]
    )

    [thinned] = [row for row in found if row.kind == "adjust"]
    assert (thinned.adjust_low, thinned.adjust_high) == (Decimal(0), Decimal("0.75"))
    assert resolve(found).is_complete


def test_a_formula_that_does_not_make_100_is_refused() -> None:
    with pytest.raises(ValueError, match="makes 100"):
        mixed([Part(Decimal(1), (line("oil", "99"),)), Part(Decimal(1), (line("oil", "100"),))])


@given(
    st.lists(
        st.tuples(st.integers(1, 10**8), st.lists(st.integers(1, 99), min_size=2, max_size=2)),
        min_size=2,
        max_size=4,
    )
)
def test_the_whole_is_100_and_every_part_within_a_step(pots: list[tuple[int, list[int]]]) -> None:
    parts = [
        Part(
            Decimal(grams) / 10000,
            tuple(line(f"{n}-{i}", str(p)) for i, p in enumerate((share, 100 - share))),
        )
        for n, (grams, (share, _)) in enumerate(pots)
    ]
    whole = sum((Fraction(part.grams) for part in parts), Fraction(0))

    found = {row.ingredient: row.percent for row in mixed(parts)}

    assert sum(percent for percent in found.values() if percent is not None) == 100
    for part in parts:
        for row in part.lines:
            true = Fraction(row.percent or 0) * Fraction(part.grams) / whole
            assert abs(Fraction(found.get(row.ingredient) or 0) - true) <= Fraction(1, 10**8)
