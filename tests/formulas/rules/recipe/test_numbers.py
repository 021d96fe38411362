"""Numbers as recipes write them, and those that can be read in two ways."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.recipe.lines import read_line
from formulas.rules.recipe.numbers import Count, Doubt, plain, read_count, read_number


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("120", "120"), ("1.5", "3/2"), ("3,5", "7/2"), ("0,125", "1/8"), ("0.125", "1/8"), (",5", "1/2"),
        ("1/3", "1/3"), ("1 1/2", "3/2"), ("1-1/2", "3/2"), ("1'234'567", "1234567"), ("1,234.5", "2469/2"),
        ("1.234,5", "2469/2"), ("1,234,567", "1234567"), ("2,25", "9/4"),
    ],
)  # fmt: skip
def test_a_number_is_read(text: str, value: str) -> None:
    """Point and comma alike, where only one reading is left."""
    assert read_number(text) == Fraction(value)


@pytest.mark.parametrize(
    "text", ["1,000", "1.000", "12,500", "3/0", "1 3/2", "1,23,4", "1''0", "1.2.3", "1'000", "0'500"]
)
def test_a_number_with_two_readings_or_none_is_asked(text: str) -> None:
    """Never a silent factor of a thousand."""
    assert isinstance(read_number(text), Doubt)


@pytest.mark.parametrize(
    ("text", "same"),
    [("1½ cups", "1 1/2 cups"), ("¾ cup", "3/4 cup"), ("2–3 g", "2-3 g"), ("half a cup", "1/2 cup"),
     ("One cup", "1 cup"), ("a quarter teaspoon", "1/4 teaspoon"), ("１２ g", "12 g"), ("١٢ g", "12 g")],
)  # fmt: skip
def test_a_line_is_made_plain(text: str, same: str) -> None:
    """Fractions, dashes, digits of other scripts, spoken numbers."""
    assert plain(text) == same


def test_a_range_keeps_both_ends_and_one_that_falls_is_asked() -> None:
    """So is a choice of two."""
    assert read_count("2", "3") == Count(Fraction(2), Fraction(3))
    assert isinstance(read_count("3", "2"), Doubt)
    assert isinstance(read_count("1", "2", " or "), Doubt)


@given(st.integers(0, 10**6), st.integers(0, 99), st.sampled_from(".,"))
def test_what_is_written_is_what_is_read(whole: int, cents: int, mark: str) -> None:
    """Two decimals after any mark are decimals."""
    assert read_number(f"{whole}{mark}{cents:02}") == Fraction(whole * 100 + cents, 100)


@given(st.text(max_size=80))
def test_no_text_raises(text: str) -> None:
    """Whatever is pasted."""
    read_line(text)
