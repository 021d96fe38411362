"""How long a batch keeps: conservative common practice, no law read."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.rules.expiry import Limit, add_months, best_before

L1 = Limit(date(2028, 6, 30), "lot L1, oil")
L2 = Limit(date(2027, 5, 31), "lot L2, wax")
L3 = Limit(date(2028, 12, 31), "lot L3, wax")


def test_b1_is_limited_by_its_wax() -> None:
    """min(2028-02-10, 2028-06-30, 2027-05-31) = 2027-05-31."""
    found = best_before(date(2026, 2, 10), 24, [L1, L2])

    assert (found.day, found.why) == (date(2027, 5, 31), "Set by lot L2, wax.")


def test_rework_brings_its_own_day_along() -> None:
    """B2's own date 2028-02-24 and its lots allow more; rework of B1 brings 2027-05-31."""
    own = best_before(date(2026, 2, 24), 24, [L1, L3])
    found = best_before(date(2026, 2, 24), 24, [L1, L3, Limit(date(2027, 5, 31), "rework of B1")])

    assert (own.day, own.why) == (date(2028, 2, 24), "Set by 24 months from 2026-02-24.")
    assert (found.day, found.why) == (date(2027, 5, 31), "Set by rework of B1.")


def test_without_a_life_and_without_a_day_nothing_says() -> None:
    """Unknown stays unknown."""
    assert best_before(date(2026, 2, 10), None, []).day is None


@pytest.mark.parametrize(
    ("day", "months", "then"),
    [("2026-01-31", 1, "2026-02-28"), ("2027-01-31", 13, "2028-02-29"), ("2026-11-30", 3, "2027-02-28"),
     ("2028-02-29", 12, "2029-02-28"), ("2026-12-31", 6, "2027-06-30"), ("2026-02-10", 24, "2028-02-10")],
)  # fmt: skip
def test_months_keep_the_day_or_take_the_last(day: str, months: int, then: str) -> None:
    """Months of different length, leap years; counted on the calendar."""
    assert add_months(date.fromisoformat(day), months) == date.fromisoformat(then)


@given(day=st.dates(date(2000, 1, 1), date(2100, 1, 1)), one=st.integers(0, 120), more=st.integers(0, 120))
def test_more_months_are_never_earlier(day: date, one: int, more: int) -> None:
    """Monotonic."""
    assert add_months(day, one) <= add_months(day, one + more)
