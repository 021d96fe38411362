"""Exact sums, stated rounding, sharing without a remainder."""

from __future__ import annotations

from decimal import Decimal, Inexact
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.number import (
    exact_product,
    exact_sum,
    figure,
    round_down,
    round_up_to_step,
    share_by_largest_remainder,
)

D = Decimal


def test_a_sum_keeps_every_digit() -> None:
    """Forty digits survive, where the ordinary context keeps 28."""
    assert exact_sum([D("1e20"), D("1e-20")]) == D("100000000000000000000.00000000000000000001")


def test_a_product_that_would_lose_a_digit_raises() -> None:
    """Losing a digit is refused, never quiet."""
    with pytest.raises(Inexact):
        exact_product(D("1." + "3" * 400), D("1." + "7" * 400))


def test_rounding_down_never_overstates() -> None:
    """0.58997 goes to 0.589 at three places and to 0.58 at two."""
    assert (round_down(D("0.58997"), 3), round_down(D("0.58997"), 2)) == (D("0.589"), D("0.58"))


def test_a_total_is_rounded_up_to_the_step() -> None:
    """1000.01 g on a scale that reads 0.1 g is planned as 1000.1 g; a multiple stays."""
    assert round_up_to_step(D("1000.01"), D("0.1")) == D("1000.1")
    assert round_up_to_step(D("1000.1"), D("0.1")) == D("1000.1")


def test_equal_remainders_go_to_the_earlier_weight() -> None:
    """1 g in thirds at 0.1 g: 0.4, 0.3, 0.3."""
    assert share_by_largest_remainder(D(1), [D(1)] * 3, D("0.1")) == [D("0.4"), D("0.3"), D("0.3")]


@pytest.mark.parametrize(
    ("total", "weights", "step"),
    [("1.05", ["1"], "0.1"), ("1", ["0"], "0.1"), ("1", ["-1", "2"], "0.1"), ("1", ["1"], "0")],
)
def test_what_cannot_be_shared_raises(total: str, weights: list[str], step: str) -> None:
    """No multiple of the step, no weight above 0, a negative weight, a step of 0."""
    with pytest.raises(ValueError, match=r"."):
        share_by_largest_remainder(D(total), [D(weight) for weight in weights], D(step))


@given(
    units=st.integers(0, 10**7),
    weights=st.lists(st.decimals(0, 100, places=8), min_size=1, max_size=30).filter(any),
)
def test_shares_add_up_and_stay_within_one_step(units: int, weights: list[Decimal]) -> None:
    """The sum is exact and no share is a whole step from its true value."""
    step = D("0.01")

    shares = share_by_largest_remainder(units * step, weights, step)

    assert sum(Fraction(share) for share in shares) == units * Fraction(step)
    whole = sum(map(Fraction, weights))
    for share, weight in zip(shares, weights, strict=True):
        assert abs(Fraction(share) - units * Fraction(step) * Fraction(weight) / whole) < Fraction(step)


def test_a_figure_to_read_never_hides_that_it_is_over() -> None:
    """1.0005 stays 1.0005; 0.500025 rounded up at four places is 0.5001; idle zeros go."""
    assert figure(D("1.0005"), up=True) == "1.0005"
    assert figure(D("0.500025"), up=True) == "0.5001"
    assert figure(D("1.00")) == "1"
    assert figure(D("0.0000123")) == "0.000012"
