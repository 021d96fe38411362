"""Reading days as people type them."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from makers.rules import display
from makers.rules.days import read_day
from makers.rules.reading import Refusal

days = st.dates(min_value=date(1900, 1, 1), max_value=date(2199, 12, 31))


@given(days)
def test_every_form_that_the_screens_show_is_read_back(day: date) -> None:
    assert read_day(display.day_iso(day)) == day
    assert read_day(display.day_fact(day)) == day
    assert read_day(f"{day.day}.{day.month}.{day.year}") == day


@given(days)
def test_a_day_with_slashes_is_read_right_or_refused_with_both_readings(day: date) -> None:
    found = read_day(f"{day.day:02d}/{day.month:02d}/{day.year}")
    if isinstance(found, Refusal):
        assert day.day <= 12
        assert display.day_iso(day) in found.suggestions
        assert len(found.suggestions) == 2
    else:
        assert found == day


@given(st.text(max_size=50))
def test_no_text_raises(text: str) -> None:
    assert isinstance(read_day(text, month_end=True), (date, Refusal))


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("25 November 2026", date(2026, 11, 25)),
        ("25. Nov. 2026", date(2026, 11, 25)),
        ("Nov 25, 2026", date(2026, 11, 25)),
        ("3 sept 2026", date(2026, 9, 3)),
        ("04.05.2026", date(2026, 5, 4)),
        ("11/25/2026", date(2026, 11, 25)),
        ("2026/11/25", date(2026, 11, 25)),
    ],
)
def test_ordinary_ways_of_writing_are_read(text: str, day: date) -> None:
    assert read_day(text) == day


@pytest.mark.parametrize("text", ["05/2028", "2028-05", "May 2028", "5.2028"])
def test_a_month_on_a_pack_means_its_last_day(text: str) -> None:
    assert read_day(text, month_end=True) == date(2028, 5, 31)
    assert isinstance(read_day(text), Refusal)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "04/05/2026",
            "“04/05/2026” can be 4\u00a0May\u00a02026 or 5\u00a0Apr\u00a02026. "
            "Write 2026-05-04 or 2026-04-05.",
        ),
        ("31 Nov 2026", "November 2026 has 30 days; “31 Nov 2026” names day 31."),
        (
            "25/11/26",
            "“25/11/26” has a year of two figures. Write it like 2026-11-25 or 25 Nov 2026.",
        ),
        ("soon", "“soon” is not a day. Write it like 2026-11-25 or 25 Nov 2026."),
        ("25 Nux 2026", "“25 Nux 2026” names no month. Write it like 2026-11-25 or 25 Nov 2026."),
    ],
)
def test_a_refusal_says_what_to_write(text: str, sentence: str) -> None:
    found = read_day(text)
    assert isinstance(found, Refusal)
    assert found.sentence == sentence
