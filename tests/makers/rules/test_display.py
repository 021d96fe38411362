"""How figures and days are written."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from makers.rules import display
from makers.rules.display import MINUS, NARROW_SPACE

values = st.decimals(
    min_value=-(10**12),
    max_value=10**12,
    places=8,
    allow_nan=False,
    allow_infinity=False,
)
places = st.integers(min_value=0, max_value=8)


def back(text: str) -> Decimal:
    """The value of a figure as it is shown."""
    return Decimal(text.replace(NARROW_SPACE, "").replace(MINUS, "-"))


@given(values, places)
def test_a_shown_figure_is_within_half_its_last_place(value: Decimal, count: int) -> None:
    assert abs(back(display.number(value, count)) - value) <= Decimal(5).scaleb(-count - 1)


@given(values, places)
def test_rounding_down_never_overstates_and_up_never_understates(value: Decimal, count: int) -> None:
    assert back(display.number(value, count, rounding="down")) <= value
    assert back(display.number(value, count, rounding="up")) >= value


@given(values.filter(bool), places)
def test_what_is_not_zero_is_never_shown_as_zero(value: Decimal, count: int) -> None:
    assert back(display.number(value, count)) != 0


@given(values)
def test_with_room_for_every_decimal_nothing_is_lost(value: Decimal) -> None:
    assert back(display.number(value, 0, most=8)) == value


@given(values, places)
def test_a_figure_and_its_padding_have_the_columns_decimals(value: Decimal, count: int) -> None:
    shown, pad = display.padded(value, count)
    assert len((shown + pad).partition(".")[2]) >= count


@pytest.mark.parametrize(
    ("value", "count", "text"),
    [
        ("2400", 1, "2\u202f400.0"),
        ("1234567.891", 2, "1\u202f234\u202f567.89"),
        ("-0.1", 1, "\u22120.1"),
        ("0", 1, "0.0"),
        ("-0.0", 1, "0.0"),
        ("0.25", 1, "0.2"),
        ("0.35", 1, "0.4"),
        ("0.004", 2, "0.004"),
        ("999", 0, "999"),
    ],
)
def test_figures_are_grouped_and_signed(value: str, count: int, text: str) -> None:
    assert display.number(Decimal(value), count) == text


def test_a_difference_shows_its_sign_and_zero_has_none() -> None:
    assert display.number(Decimal("0.4"), 1, sign=True) == "+0.4"
    assert display.number(Decimal("-0.3"), 1, sign=True) == "\u22120.3"
    assert display.number(Decimal(0), 1, sign=True) == "0.0"


def test_missing_decimals_are_handed_out_for_padding() -> None:
    assert display.padded(Decimal("3.5"), 2) == ("3.5", "0")
    assert display.padded(Decimal(25), 2) == ("25", ".00")
    assert display.padded(Decimal("0.05"), 2) == ("0.05", "")


def test_grams_and_percent_keep_what_was_recorded() -> None:
    assert display.grams(Decimal("1860.0000")) == "1\u202f860.0"
    assert display.grams(Decimal("4.0025")) == "4.0025"
    assert display.percent(Decimal("67.26000000")) == "67.26"
    assert display.percent(Decimal("0.12345678")) == "0.12345678"
    assert display.percent(Decimal("0.12345678"), 2) == "0.12"


def test_a_value_that_is_not_finite_is_refused() -> None:
    with pytest.raises(ValueError, match="can't be shown"):
        display.number(Decimal("NaN"), 1)


def test_the_decimal_mark_follows_the_maker() -> None:
    assert display.number(Decimal("1234.5"), 1, mark=",") == "1\u202f234,5"


def test_money_keeps_the_currencys_own_places() -> None:
    assert display.money(Decimal("14.98"), "EUR") == "14.98\u00a0€"
    assert display.money(Decimal("0.0115"), "EUR", exact=True) == "0.0115\u00a0€"
    assert display.money(Decimal(1200), "JPY") == "1\u202f200\u00a0¥"


def test_counts_and_their_words_agree() -> None:
    assert display.units(1, "jar") == "1\u00a0jar"
    assert display.units(46, "jar") == "46\u00a0jars"
    assert display.units(2, "batch", "batches") == "2\u00a0batches"
    assert display.with_unit("2", "fl oz") == "2\u00a0fl\u00a0oz"
    assert display.in_a_row(["a", "b", "c"]) == "a, b and c"


def test_days_have_three_forms() -> None:
    day = date(2026, 11, 25)
    assert display.day_iso(day) == "2026-11-25"
    assert display.day_fact(day) == "25\u00a0Nov\u00a02026"
    assert display.day_title(day) == "Wednesday 25\u00a0November"
    assert display.month(date(2028, 5, 31)) == "May\u00a02028"


def test_a_moment_is_near_when_it_is_near() -> None:
    today = date(2026, 11, 25)
    assert display.moment(datetime(2026, 11, 25, 14, 32, tzinfo=UTC), today) == "Today 14:32"
    assert display.moment(datetime(2026, 11, 24, 17, 20, tzinfo=UTC), today) == "Tue 17:20"
    assert display.moment(datetime(2026, 11, 18, 9, 5, tzinfo=UTC), today) == "18\u00a0Nov 09:05"
    assert display.moment(datetime(2025, 1, 2, 9, 5, tzinfo=UTC), today) == "2\u00a0Jan\u00a02025 09:05"
    assert display.days_between(date(2026, 12, 7), today) == "in 12\u00a0days"
    assert display.days_between(date(2026, 11, 24), today) == "1\u00a0day ago"


def test_a_file_size_is_never_understated() -> None:
    assert display.bytes_size(209_001) == "210\u00a0kB"
    assert display.bytes_size(10_000_001) == "10.1\u00a0MB"
    assert display.bytes_size(1) == "1\u00a0byte"


def test_the_code_of_a_pack_is_one_piece() -> None:
    """A batch's code with the letter of the pack."""
    assert ("code", "26-0008-A") in display.pieces("Packed 48 as 26-0008-A.")


def test_the_sides_of_a_label_are_one_figure() -> None:
    """Half of it in another face would read as two facts."""
    found = display.pieces("all texts on 70 × 37 mm")

    assert [(kind, text.replace("\u00a0", " ")) for kind, text in found] == [
        ("text", "all texts on "),
        ("figure", "70 × 37 mm"),
    ]


def test_a_sentence_is_cut_into_words_figures_and_codes() -> None:
    found = display.pieces("Lot 26-L079 holds 1 120 g; 1.04 % of it, Reg (EC) 1223/2009.")
    assert ("code", "26-L079") in found
    assert ("figure", "120\u00a0g") in found or ("figure", "1\u00a0120\u00a0g") in found
    assert ("figure", "1.04\u00a0%") in found
    assert "".join(text for _, text in found).replace("\u00a0", " ") == (
        "Lot 26-L079 holds 1 120 g; 1.04 % of it, Reg (EC) 1223/2009."
    )


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        (
            "0.0001 is missing from 100: the lines make 99.9999.",
            "0,0001 is missing from 100: the lines make 99,9999.",
        ),
        (
            "Shea comes to 2\u202f400.5 g; 0.5 to 0.65 of it.",
            "Shea comes to 2\u202f400,5 g; 0,5 to 0,65 of it.",
        ),
        ("“1.5” has a point; 1.5 is kept.", "“1.5” has a point; 1,5 is kept."),
        ("21 CFR 701.3(f), ISO 22716, version 1.2, 26.11.2026, 14:32, 10.1.1.2", None),
        ("See https://data.example/1.5/ and 26-L079.", None),
    ],
)
def test_a_sentence_is_shown_with_the_makers_decimal_mark(said: str, shown: str | None) -> None:
    """Figures change; what was typed, addresses, laws, days and codes don't. With points nothing does."""
    assert display.in_mark(said, ",") == (shown or said)
    assert display.in_mark(said, ".") == said
