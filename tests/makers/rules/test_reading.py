"""Reading numbers and amounts as people type them."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from makers.rules.display import NARROW_SPACE, NO_BREAK_SPACE
from makers.rules.reading import (
    MASS_UNITS,
    VOLUME_UNITS,
    Amount,
    Refusal,
    as_typed,
    decimal_mark,
    out_of_bounds,
    read_amount,
    read_decimal,
)

POINT, COMMA = "en_IE", "de_DE"
LOCALES = [
    "en_IE",
    "en_US",
    "de_DE",
    "de_CH",
    "fr_FR",
    "pl_PL",
    "sv_SE",
    "es_ES",
    "pt_PT",
    "nb_NO",
]

values = st.decimals(
    min_value=-(10**12),
    max_value=10**12,
    places=6,
    allow_nan=False,
    allow_infinity=False,
)


def refusal(text: str, locale: str = POINT, unit: str = "") -> Refusal:
    """The refusal of a text that must not be read."""
    found = read_decimal(text, locale, unit=unit)
    assert isinstance(found, Refusal), f"{text!r} was read as {found}"
    return found


@given(values, st.sampled_from(LOCALES))
def test_what_a_field_writes_is_read_back_as_the_same_value(value: Decimal, locale: str) -> None:
    assert read_decimal(as_typed(value, locale), locale) == value


@given(
    values,
    st.sampled_from(LOCALES),
    st.sampled_from([" ", NO_BREAK_SPACE, NARROW_SPACE, "'", "\u2019"]),
)
def test_parted_thousands_are_read_in_every_locale(value: Decimal, locale: str, parting: str) -> None:
    text = f"{value:,f}".replace(",", parting).replace(".", decimal_mark(locale))
    assert read_decimal(text, locale) == value


@given(
    values.filter(lambda value: value != value.to_integral_value()),
    st.sampled_from(LOCALES),
)
def test_the_other_decimal_mark_is_never_read_as_another_value(value: Decimal, locale: str) -> None:
    """A tenfold or thousandfold mistake is impossible: the text is refused, or means what stands there."""
    mark = decimal_mark(locale)
    other = "," if mark == "." else "."
    found = read_decimal(f"{value:f}".replace(".", other), locale)
    assert isinstance(found, Refusal)
    assert f"{value:f}".replace(".", mark) in found.suggestions


@given(st.text(max_size=80))
def test_no_text_raises_or_gives_anything_but_a_finite_number(text: str) -> None:
    found = read_decimal(text, POINT, unit="g")
    assert isinstance(found, Refusal) or found.is_finite()
    amount = read_amount(text, COMMA)
    assert isinstance(amount, (Refusal, Amount))


@given(
    st.text(alphabet="0123456789.,+-'\u2019 \u00a0\u202feEOol½/_", max_size=14),
    st.sampled_from(LOCALES),
)
def test_near_numbers_are_read_only_when_taking_the_parting_out_leaves_that_very_figure(
    text: str, locale: str
) -> None:
    found = read_decimal(text, locale)
    if isinstance(found, Decimal):
        mark = decimal_mark(locale)
        digits = "".join(letter for letter in text if letter in f"0123456789-{mark}").replace(mark, ".")
        assert found == Decimal(digits)


@pytest.mark.parametrize(
    ("text", "locale", "value"),
    [
        ("1.5", POINT, "1.5"),
        ("1,5", COMMA, "1.5"),
        ("2\u202f400.0", POINT, "2400.0"),
        ("2 400,5", "fr_FR", "2400.5"),
        ("1,234.5", POINT, "1234.5"),
        ("1,234,567", POINT, "1234567"),
        ("1.234,5", COMMA, "1234.5"),
        (".5", POINT, "0.5"),
        ("5.", POINT, "5"),
        ("\u22123.2", POINT, "-3.2"),
        ("+4", POINT, "4"),
        ("007", POINT, "7"),
        (" 12 ", POINT, "12"),
    ],
)
def test_ordinary_ways_of_writing_are_read(text: str, locale: str, value: str) -> None:
    assert read_decimal(text, locale) == Decimal(value)


@pytest.mark.parametrize(
    ("text", "locale", "sentence", "suggestions"),
    [
        ("1,5O", POINT, "“1,5O” ends in the letter O. Did you mean 1.50?", ("1.50",)),
        ("1O.5", POINT, "“1O.5” has in it the letter O. Did you mean 10.5?", ("10.5",)),
        ("l.5", POINT, "“l.5” has in it the letter l. Did you mean 1.5?", ("1.5",)),
        (
            "1,5",
            POINT,
            "“1,5” has a comma; decimals stand after a point here. Did you mean 1.5?",
            ("1.5",),
        ),
        (
            "1.5",
            COMMA,
            "“1.5” has a point; decimals stand after a comma here. Did you mean 1,5?",
            ("1,5",),
        ),
        (
            "1,500",
            POINT,
            "“1,500” can be read as 1500 or as 1.500. Write one of the two.",
            ("1500", "1.500"),
        ),
        (
            "1.500",
            COMMA,
            "“1.500” can be read as 1500 or as 1,500. Write one of the two.",
            ("1500", "1,500"),
        ),
        ("½", POINT, "“½” is a fraction. Write 0.5.", ("0.5",)),
        ("1½", COMMA, "“1½” is a fraction. Write 1,5.", ("1,5",)),
        ("3/4", POINT, "“3/4” is a fraction. Write 0.75.", ("0.75",)),
        ("1/3", POINT, "“1/3” is a fraction. Write it with decimals, like 1.5.", ()),
        ("٣", POINT, "“٣” is written in other digits. Write 3.", ("3",)),
        (
            "1e5",
            POINT,
            "“1e5” is written with a power of ten. Write the figure out, like 1.5.",
            (),
        ),
        ("NaN", POINT, "“NaN” is not a number. Write it in figures, like 1.5.", ()),
        (
            "Infinity",
            COMMA,
            "“Infinity” is not a number. Write it in figures, like 1,5.",
            (),
        ),
        ("1_000", POINT, "“1_000” is not a number. Write it in figures, like 1.5.", ()),
        ("1 5", POINT, "“1 5” has a space in it. Did you mean 15?", ("15",)),
        ("1.2.3", POINT, "“1.2.3” has 2 points. One parts the decimals.", ("123",)),
        ("1-2", POINT, "“1-2” has a sign inside it. Write one figure.", ()),
        ("", POINT, "Write a number here.", ()),
        (
            "\u200b",
            POINT,
            "Only invisible characters stand here. Write a number, like 1.5.",
            (),
        ),
    ],
)
def test_a_refusal_says_what_stands_there_and_what_may_be_meant(
    text: str, locale: str, sentence: str, suggestions: tuple[str, ...]
) -> None:
    assert refusal(text, locale) == Refusal(sentence, suggestions)


@pytest.mark.parametrize(
    "text",
    ["1" * 31, "1e999999999", "9" * 500, "0." + "0" * 40 + "1", "--1", "1..2", ","],
)
def test_what_is_too_long_or_too_odd_is_refused(text: str) -> None:
    assert refusal(text).sentence.endswith((".", "?"))


@pytest.mark.parametrize("text", ["120 g", "120g", "120 grams", "120 G"])
def test_the_fields_own_unit_may_be_typed(text: str) -> None:
    assert read_decimal(text, POINT, unit="g") == Decimal(120)


def test_another_unit_is_refused_with_the_amount_in_the_fields_unit() -> None:
    found = refusal("1.5 kg", unit="g")
    assert found == Refusal("“1.5 kg” is in kg; this field is in g. That would be 1500 g.", ("1500",))
    assert refusal("12 ml", unit="g") == Refusal("“12 ml” is in ml; this field is in g.")
    assert refusal("12 g") == Refusal("“12 g” has a unit after it. Write the figure alone.", ("12",))


def test_percent_may_carry_its_sign_in_a_percent_field_only() -> None:
    assert read_decimal("4.5 %", POINT, unit="%") == Decimal("4.5")
    assert isinstance(read_decimal("4.5 %", POINT, unit="g"), Refusal)


def test_the_units_agree_with_an_independent_unit_library() -> None:
    """Outside check: pint's own definitions, which follow NIST SP 811 and Handbook 44."""
    registry: Any = pint.UnitRegistry(non_int_type=Decimal)
    names = {
        "fl oz": "fluid_ounce",
        "l": "liter",
        "ml": "milliliter",
        "oz": "ounce",
        "lb": "pound",
    }
    for unit, factor in MASS_UNITS.items():
        assert registry.Quantity(Decimal(1), names.get(unit, unit)).to("g").magnitude == factor
    for unit, factor in VOLUME_UNITS.items():
        found = registry.Quantity(Decimal(1), names[unit]).to("ml").magnitude
        assert abs(found - factor) < Decimal("1e-20")


def test_an_amount_is_read_with_its_unit() -> None:
    assert read_amount("1.5 kg", POINT) == Amount(Decimal("1.5"), "kg")
    assert read_amount("8oz", POINT) == Amount(Decimal(8), "oz")
    assert read_amount("2 fl. oz.", POINT, tuple(VOLUME_UNITS)) == Amount(Decimal(2), "fl oz")
    assert Amount(Decimal("1.5"), "lb").grams == Decimal("680.388555")
    assert Amount(Decimal(2), "fl oz").millilitres == Decimal("59.147059125")
    assert Amount(Decimal(2), "fl oz").grams is None


def test_an_amount_without_a_unit_or_in_another_is_refused() -> None:
    bare = read_amount("120", POINT)
    assert isinstance(bare, Refusal)
    assert bare.sentence == "“120” has no unit. Write g, kg, mg, oz or lb after it."
    volume = read_amount("120 ml", POINT)
    assert isinstance(volume, Refusal)
    assert volume.sentence == "“120 ml” is in ml. Here it is g, kg, mg, oz or lb."


def test_a_value_at_its_bound_fits_and_one_beyond_says_both_figures() -> None:
    least, most = Decimal(0), Decimal(100)
    assert out_of_bounds(Decimal(100), POINT, places=2, least=least, most=most, unit="%") is None
    over = out_of_bounds(Decimal("100.5"), POINT, places=2, least=least, most=most, unit="%")
    assert over == Refusal("100.5\u00a0% is more than 100\u00a0%, the most that fits here.")
    under = out_of_bounds(Decimal(-1), POINT, places=2, least=least, most=most, unit="g")
    assert under == Refusal("\u22121\u00a0g is below 0\u00a0g, the least that fits here.")
    zero = out_of_bounds(Decimal(0), POINT, places=2, above=Decimal(0), unit="g")
    assert zero == Refusal("0\u00a0g is not above 0\u00a0g. Write a figure above it.")


def test_decimals_that_the_record_cannot_keep_are_refused_not_rounded() -> None:
    assert out_of_bounds(Decimal("1.2500"), POINT, places=2) is None
    found = out_of_bounds(Decimal("1.255"), COMMA, places=2)
    assert found == Refusal("1,255 has 3 decimals; 2 decimals are kept here.")


def test_one_decimal_too_many_is_one_decimal() -> None:
    """Months are whole."""
    found = out_of_bounds(Decimal("12.5"), COMMA, places=0, unit="months")

    assert found == Refusal("12,5\u00a0months has 1 decimal; whole numbers are kept here.")
