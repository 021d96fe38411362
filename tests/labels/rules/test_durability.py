"""Date or open jar: Reg (EC) 1223/2009 Art. 19(1)(c), Annex VII."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.rules.expiry import add_months
from labels.rules.durability import best_before_month, eu_durability, us_durability

MADE = date(2026, 11, 25)


def test_twenty_four_months_print_the_month_that_ends_within_them() -> None:
    """Made 2026-11-25: good to 2028-11-25, so the end of October 2028 (safe rounding, editorial)."""
    durability = eu_durability(24, None, MADE)

    assert durability.text == "best used before the end of 10/2028"
    assert durability.day_form == "25/11/2028"


def test_thirty_months_still_carry_a_date() -> None:
    """A date falls away only above 30 months."""
    assert eu_durability(30, 12, MADE).kind == "date"


def test_thirty_six_months_carry_the_open_jar() -> None:
    """Annex VII 2: months after opening, no date."""
    durability = eu_durability(36, 12, MADE)

    assert (durability.kind, durability.text) == ("open jar", "12M")


def test_a_single_dose_that_keeps_long_carries_neither() -> None:
    """Opening has no meaning for single use (case known from practice)."""
    assert eu_durability(36, None, MADE, single_use=True).kind == "none"


@pytest.mark.parametrize(("life", "pao"), [(None, 12), (36, None)])
def test_missing_months_are_unknown(life: int | None, pao: int | None) -> None:
    """Neither figure is ever guessed."""
    durability = eu_durability(life, pao, MADE)

    assert durability.kind == "unknown"
    assert not durability.is_settled


def test_without_a_batch_the_date_is_still_open() -> None:
    """The kind is known, the date comes with the batch."""
    durability = eu_durability(24, None)

    assert (durability.kind, durability.text) == ("date", "")


def test_an_earlier_expiry_of_the_batch_wins() -> None:
    """A lot that ends sooner ends the batch sooner; a short batch of a long product carries a date."""
    assert eu_durability(24, None, MADE, best_before=date(2027, 6, 30)).month_form == "06/2027"
    assert eu_durability(36, 12, MADE, best_before=date(2027, 6, 30)).kind == "date"


def test_a_day_that_isnt_there_becomes_the_last_of_the_month() -> None:
    """31 August and six months: 28 February, the end of that month."""
    assert add_months(date(2026, 8, 31), 6) == date(2027, 2, 28)
    assert best_before_month(date(2027, 2, 28)) == (2027, 2)


def test_january_goes_back_to_december() -> None:
    """Mid January lies after the end of December."""
    assert best_before_month(date(2028, 1, 10)) == (2027, 12)


@given(st.dates(date(2020, 1, 1), date(2099, 12, 31)))
def test_the_printed_month_never_ends_after_the_last_good_day(last_day: date) -> None:
    """The end of the printed month is proven, the end of the next is not."""
    year, month = best_before_month(last_day)
    end = add_months(date(year, month, 1), 1) - timedelta(days=1)

    assert end <= last_day < add_months(date(year, month, 1), 2) - timedelta(days=1)


def test_us_asks_for_no_date() -> None:
    """Nothing in 21 CFR 701 asks for one."""
    assert us_durability().is_settled
