"""Due days of reports.

Dates worked out by hand on the calendar. Sources: 21 U.S.C. 364a(b) (read second hand; holiday rule from
memory); Reg (EC) 1223/2009 Art. 23 and its guidelines (read); Australian Consumer Law ss 128, 131 with the
regulator's table of weekdays (read); Fair Trading Act 1986 (NZ) s 31A(2) (read).
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.rules.clocks import (
    Case,
    Clock,
    add_business_days,
    au_injury_due,
    au_recall_due,
    clocks,
    eu_serious_limit,
    is_business_day,
    nz_recall_due,
    us_follow_up_due,
    us_serious_due,
)
from batches.rules.closed_days import australian, new_zealand, us_federal
from batches.rules.serious import AU_TERMS, EU_TERMS, US_TERMS

US_DAYS = frozenset({date(2026, 11, 26), date(2026, 12, 25), date(2027, 1, 1), date(2027, 1, 18)})
AU_DAYS = frozenset(
    {date(2026, 12, 25), date(2026, 12, 26), date(2026, 12, 28), date(2027, 1, 1), date(2027, 1, 26)}
)
ALL_NO = dict.fromkeys({*EU_TERMS, *US_TERMS, *AU_TERMS}, "no")


@pytest.mark.parametrize(
    ("heard", "au", "us", "eu", "nz"),
    [
        ("2026-11-25", "2026-11-27", "2026-12-17", "2026-12-15", "2026-11-27"),
        ("2026-11-26", "2026-11-30", "2026-12-17", "2026-12-16", "2026-11-30"),
        ("2026-11-27", "2026-11-30", "2026-12-18", "2026-12-17", "2026-12-01"),
        ("2026-11-28", "2026-11-30", "2026-12-18", "2026-12-18", "2026-12-01"),
        ("2026-11-29", "2026-12-01", "2026-12-18", "2026-12-19", "2026-12-01"),
        ("2026-11-30", "2026-12-02", "2026-12-21", "2026-12-20", "2026-12-02"),
        ("2026-12-22", "2026-12-24", "2027-01-14", "2027-01-11", "2026-12-24"),
        ("2026-12-23", "2026-12-29", "2027-01-15", "2027-01-12", None),
        ("2026-12-24", "2026-12-29", "2027-01-19", "2027-01-13", None),
    ],
)
def test_days_around_thanksgiving_and_the_turn_of_the_year(
    heard: str, au: str, us: str, eu: str, nz: str | None
) -> None:
    """Thanksgiving, Christmas, a Boxing Day substitute, New Year and a January holiday in between."""
    day = date.fromisoformat(heard)

    assert au_injury_due(day, AU_DAYS).isoformat() == au
    assert us_serious_due(day, US_DAYS).isoformat() == us
    assert eu_serious_limit(day).isoformat() == eu
    if nz is not None:
        assert nz_recall_due(day).isoformat() == nz


def test_a_new_letter_within_the_year_starts_its_own_fifteen_days() -> None:
    """Filed 17 Dec 2026, letter of 8 Mar 2027: 29 Mar 2027; after 17 Dec 2027 nothing runs."""
    first = date(2026, 12, 17)

    def due(day: date) -> date | None:
        return us_follow_up_due(first_report=first, new_information=day, federal_holidays=us_federal([2027]))

    assert due(date(2027, 3, 8)) == date(2027, 3, 29)
    assert due(date(2027, 12, 17)) is not None
    assert due(date(2027, 12, 18)) is None


def test_a_recall_on_a_saturday() -> None:
    """Started Sat 28 Nov 2026: Australia Mon 30 Nov, New Zealand Tue 1 Dec."""
    assert au_recall_due(date(2026, 11, 28)) == date(2026, 11, 30)
    assert nz_recall_due(date(2026, 11, 28), new_zealand([2026])) == date(2026, 12, 1)


def only(found: tuple[Clock, ...], market: str) -> Clock:
    """The clock of one market."""
    (clock,) = [one for one in found if one.market == market]
    return clock


def test_a_rash_without_doctor_or_nurse_is_not_reportable_in_australia() -> None:
    """Bought a cream at the pharmacy; nobody treated it."""
    (clock,) = clocks(Case((date(2026, 11, 25),), {**ALL_NO, "rash": "yes"}, ("AU",), "AU"))

    assert (clock.duty, clock.due) == ("not required", None)


def test_what_a_market_helper_heard_counts() -> None:
    """Told to a helper on Fri 27 Nov, the maker hears on Mon 30 Nov: due Mon 30 Nov."""
    case = Case((date(2026, 11, 30), date(2026, 11, 27)), {**ALL_NO, "medical": "yes"}, ("AU",), "AU")

    (clock,) = clocks(case, au_holidays=AU_DAYS)

    assert (clock.duty, clock.due) == ("required", date(2026, 11, 30))
    assert clock.days_left(date(2026, 11, 30)) == 0


def test_an_infection_without_hospital_is_serious_in_the_us() -> None:
    """15 business days."""
    (clock,) = clocks(
        Case((date(2026, 11, 25),), {**ALL_NO, "infection": "yes"}, ("US",), "US"), us_holidays=US_DAYS
    )

    assert (clock.duty, clock.due, clock.at_once) == ("required", date(2026, 12, 17), False)
    assert clock.assumes == "Skips the federal holidays 2026-11-26."


def test_two_days_off_work_is_serious_in_the_eu_and_nothing_in_canada() -> None:
    """Temporary incapacity: without delay, 20 days at most; Canada has no duty."""
    found = clocks(Case((date(2026, 11, 25),), {**ALL_NO, "incapacity": "yes"}, ("CA", "EU"), "EU"))

    assert [one.market for one in found] == ["EU", "CA"]
    assert (found[0].due, found[0].at_once) == (date(2026, 12, 15), True)
    assert (found[1].duty, found[1].due) == ("voluntary", None)


def test_a_night_in_hospital_in_france_of_a_product_sold_in_three_markets() -> None:
    """Overseas events count in Australia; the EU is told; the US is to be checked."""
    case = Case(
        (date(2026, 11, 25),), {**ALL_NO, "medical": "yes", "hospital": "yes"}, ("AU", "US", "EU"), "EU"
    )

    found = clocks(case, us_holidays=US_DAYS, au_holidays=AU_DAYS)

    assert (only(found, "AU").duty, only(found, "AU").due) == ("required", date(2026, 11, 27))
    assert (only(found, "EU").duty, only(found, "EU").due) == ("required", date(2026, 12, 15))
    assert only(found, "US").duty == "check"


def test_while_a_fact_is_open_the_day_that_would_hold_is_shown() -> None:
    """Unknown is never "nothing to do"."""
    (clock,) = clocks(Case((date(2026, 11, 25),), {}, ("GB",), "GB"))

    assert (clock.duty, clock.due) == ("unknown", date(2026, 12, 15))
    assert "If it is: tell the Secretary of State" in clock.text


def test_federal_holidays_agree_with_a_published_list() -> None:
    """Independence Day 2026 falls on a Saturday and is kept on Friday 3 July (5 U.S.C. 6103, from memory)."""
    days = us_federal([2026])

    assert {date(2026, 7, 3), date(2026, 11, 26), date(2026, 12, 25)} <= days
    assert us_serious_due(date(2026, 6, 26), days) == date(2026, 7, 20)


def test_states_differ_and_an_unknown_one_is_refused() -> None:
    """Boxing Day 2026 falls on a Saturday; New South Wales has the Monday off."""
    assert date(2026, 12, 28) in australian("NSW", [2026])
    with pytest.raises(ValueError, match="no State or Territory"):
        australian("XX", [2026])


@given(
    day=st.dates(date(2020, 1, 1), date(2035, 1, 1)),
    count=st.integers(1, 40),
    closed=st.sets(st.integers(1, 90)),
)
def test_business_days_are_counted_one_by_one(day: date, count: int, closed: set[int]) -> None:
    """Exactly so many open days lie after day 0, and the due day is the last of them."""
    shut = {day + timedelta(days=one) for one in closed}

    due = add_business_days(day, count, shut)

    between = [day + timedelta(days=one) for one in range(1, (due - day).days + 1)]
    assert sum(is_business_day(one, shut) for one in between) == count
    assert is_business_day(due, shut)
