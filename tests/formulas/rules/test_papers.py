"""The age of papers: common practice, no source, but for what a year is."""

from __future__ import annotations

from datetime import date

import pytest

from formulas.rules.papers import age, is_old, whole_years

TODAY = date(2026, 3, 1)


@pytest.mark.parametrize(
    ("issued", "years", "words"),
    [
        (date(2026, 3, 1), 0, ""),
        (date(2025, 3, 2), 0, ""),
        (date(2025, 3, 1), 1, "1 year old"),
        (date(2024, 2, 29), 2, "2 years old"),
        (date(2020, 12, 31), 5, "5 years old"),
        (date(2027, 1, 1), 0, ""),
    ],
)
def test_years_are_full_ones(issued: date, years: int, words: str) -> None:
    """Counted by the calendar, by hand; nothing is younger than new."""
    assert (whole_years(issued, TODAY), age(issued, TODAY)) == (years, words)


@pytest.mark.parametrize(
    ("kind", "issued", "old"),
    [
        ("safety", date(2023, 3, 1), False),
        ("safety", date(2023, 2, 28), True),
        ("specification", date(2021, 3, 1), True),
        ("certificate", date(2011, 3, 1), False),
    ],
)
def test_three_years_to_the_day_is_within(kind: str, issued: date, old: bool) -> None:
    """A sheet ages, a lot's certificate does not."""
    assert is_old(kind, issued, TODAY) is old
