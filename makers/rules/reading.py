"""Reading numbers and amounts as people type them, never with a silent factor of ten.

A text that can be read in two ways is not read: the refusal says what stands there and offers both. Nothing
that a person typed is ever handed to a unit library; units are a closed list.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from decimal import (
    Context,
    Decimal,
    DivisionByZero,
    Inexact,
    InvalidOperation,
    Overflow,
)
from typing import Literal

from babel.core import Locale, UnknownLocaleError
from babel.numbers import (
    NumberFormatError,
    get_decimal_symbol,
    get_group_symbol,
    parse_decimal,
)

from makers.rules.display import MINUS, decimals_of, figure, plural, with_unit

MOST_DIGITS = 30
MOST_CHARACTERS = 60
FALLBACK_LOCALE = "en"

_EXACT = Context(prec=120, traps=[Inexact, InvalidOperation, DivisionByZero, Overflow])
_WIDE = Context(prec=120, traps=[InvalidOperation, DivisionByZero, Overflow])

MASS_UNITS: dict[str, Decimal] = {
    "g": Decimal(1),
    "kg": Decimal(1000),
    "mg": Decimal("0.001"),
    "oz": Decimal("28.349523125"),
    "lb": Decimal("453.59237"),
}
"""Grams in one unit. The avoirdupois pound is exactly 0.45359237 kg, the ounce its 16th (NIST SP 811 B.8)."""

VOLUME_UNITS: dict[str, Decimal] = {
    "ml": Decimal(1),
    "l": Decimal(1000),
    "fl oz": Decimal("29.5735295625"),
}
"""Millilitres in one unit. The US fluid ounce is 1/128 of a gallon of 231 cubic inches (NIST SP 811 B.8)."""

_SPELLINGS: dict[str, str] = {
    "g": "g", "gr": "g", "gram": "g", "grams": "g", "gramme": "g", "grammes": "g",
    "kg": "kg", "kilo": "kg", "kilos": "kg", "mg": "mg",
    "oz": "oz", "ounce": "oz", "ounces": "oz", "lb": "lb", "lbs": "lb", "pound": "lb", "pounds": "lb",
    "ml": "ml", "l": "l", "litre": "l", "litres": "l", "liter": "l", "liters": "l",
    "fl oz": "fl oz", "floz": "fl oz", "fl.oz": "fl oz", "fl. oz": "fl oz", "fl. oz.": "fl oz",
    "%": "%", "°c": "°C", "c": "°C", "°f": "°F", "mm": "mm", "cm": "cm", "min": "min", "g/ml": "g/ml",
    "pieces": "pieces", "pcs": "pieces", "€": "€", "$": "$", "£": "£", "eur": "€", "usd": "$", "gbp": "£",
}  # fmt: skip

_SPACES = " \u00a0\u202f\u2009"
_APOSTROPHES = "'\u2019"
_LOOK_ALIKE = {"O": "0", "o": "0", "l": "1", "I": "1"}
_PLAIN = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)\Z", re.ASCII)


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a text was not read. suggestions: what may have been meant, as it would be read here."""

    sentence: str
    suggestions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Amount:
    """A quantity as it was entered."""

    amount: Decimal
    unit: str

    @property
    def kind(self) -> Literal["mass", "volume"]:
        """What the unit measures."""
        return "mass" if self.unit in MASS_UNITS else "volume"

    @property
    def grams(self) -> Decimal | None:
        """Exact grams of a mass; None for a volume, whose mass needs a density."""
        factor = MASS_UNITS.get(self.unit)
        return None if factor is None else _EXACT.multiply(self.amount, factor)

    @property
    def millilitres(self) -> Decimal | None:
        """Exact millilitres of a volume; None for a mass."""
        factor = VOLUME_UNITS.get(self.unit)
        return None if factor is None else _EXACT.multiply(self.amount, factor)


def decimal_mark(locale: str) -> str:
    """The decimal mark of a locale such as "en_IE" or "de_DE"; a point where the locale is not known."""
    mark = get_decimal_symbol(_locale(locale))
    return mark if mark in {".", ","} else "."


def as_typed(value: Decimal, locale: str, *, least: int = 0) -> str:
    """A value as it stands in a field: the locale's mark, no grouping, idle zeros only up to ``least``.

    What this writes, ``read_decimal`` reads back as the same value.
    """
    text = f"{value:f}"
    if "." in text:
        whole, _, decimals = text.partition(".")
        decimals = decimals.rstrip("0").ljust(least, "0")
        text = f"{whole}.{decimals}" if decimals else whole
    elif least:
        text = f"{text}.{'0' * least}"
    if not value:
        text = text.lstrip("-")
    return text.replace(".", decimal_mark(locale))


def quoted(text: str) -> str:
    """What was typed, in quotes, fit for a sentence: one line, nothing invisible, at most 40 characters."""
    shown = "".join(" " if mark.isspace() else mark for mark in text if mark.isspace() or mark.isprintable())
    shown = shown.strip()
    if len(shown) > 40:
        shown = shown[:39] + "…"
    return f"“{shown}”"


def read_decimal(text: str, locale: str, *, unit: str = "") -> Decimal | Refusal:
    """Read a number typed in ``locale``; spaces and apostrophes may part thousands.

    unit: the field's unit; the same unit typed after the number is accepted, another is refused. One mark
    that could part thousands or decimals ("1,500" in English) is refused with both readings.
    Never raises for any text.
    """
    typed = text.strip()
    if not typed:
        return Refusal("Write a number here.")
    if len(typed) > MOST_CHARACTERS:
        return Refusal(f"{len(typed)} characters stand here; a number takes {MOST_DIGITS} at most.")
    mark = decimal_mark(locale)
    parted = _without_unit(typed, unit, locale)
    if isinstance(parted, Refusal):
        return parted
    body = parted.replace(MINUS, "-")
    refusal = _strange(body, typed, locale, unit)
    if refusal is not None:
        return refusal
    plain = _ungrouped(body, typed, mark, _group_mark(locale))
    if isinstance(plain, Refusal):
        return plain
    if sum(character.isdigit() for character in plain) > MOST_DIGITS:
        return Refusal(f"{quoted(typed)} is longer than {MOST_DIGITS} digits.")
    return _parsed(plain, typed, locale, mark)


def read_amount(text: str, locale: str, allowed: tuple[str, ...] = tuple(MASS_UNITS)) -> Amount | Refusal:
    """Read a number with its unit ("1.5 kg"); ``allowed`` units come from the closed lists above."""
    typed = text.strip()
    hit = re.match(r"(.*?)\s*([^\W\d_][\w. ]*?)\.?\Z", typed, re.DOTALL)
    name = _SPELLINGS.get(hit.group(2).casefold().strip(), "") if hit else ""
    choice = _either(allowed)
    if hit is None or not name:
        value = read_decimal(typed, locale)
        if isinstance(value, Refusal):
            return value
        return Refusal(
            f"{quoted(typed)} has no unit. Write {choice} after it.",
            tuple(f"{typed} {one}" for one in allowed),
        )
    if name not in allowed or (name not in MASS_UNITS and name not in VOLUME_UNITS):
        return Refusal(f"{quoted(typed)} is in {name}. Here it is {choice}.")
    value = read_decimal(hit.group(1), locale)
    return value if isinstance(value, Refusal) else Amount(value, name)


def out_of_bounds(
    value: Decimal,
    locale: str,
    *,
    places: int,
    least: Decimal | None = None,
    most: Decimal | None = None,
    above: Decimal | None = None,
    unit: str = "",
) -> Refusal | None:
    """Why a value that was read does not fit its field, or None.

    At ``least`` and at ``most`` it fits, at ``above`` it doesn't.
    """
    mark = decimal_mark(locale)

    def say(bound: Decimal) -> str:
        return with_unit(figure(bound, most=30, mark=mark), unit)

    if most is not None and value > most:
        return Refusal(f"{say(value)} is more than {say(most)}, the most that fits here.")
    if above is not None and value <= above:
        return Refusal(f"{say(value)} is not above {say(above)}. Write a figure above it.")
    if least is not None and value < least:
        return Refusal(f"{say(value)} is below {say(least)}, the least that fits here.")
    needed = decimals_of(value)
    if needed > places:
        kept = f"{places} decimals are" if places != 1 else "1 decimal is"
        kept = "whole numbers are" if places == 0 else kept
        return Refusal(f"{say(value)} has {needed} {plural(needed, 'decimal')}; {kept} kept here.")
    return None


def _locale(name: str) -> Locale:
    try:
        return Locale.parse(name)
    except (ValueError, TypeError, UnknownLocaleError):
        return Locale.parse(FALLBACK_LOCALE)


def _group_mark(locale: str) -> str:
    return get_group_symbol(_locale(locale))


def _either(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"


def _unit_name(text: str) -> str:
    """The unit that a text names, or nothing."""
    return _SPELLINGS.get(" ".join(text.casefold().split()).removesuffix("."), "")


def _without_unit(typed: str, unit: str, locale: str) -> str | Refusal:
    """The text before a unit typed after the number; a refusal when that unit is another than the field's."""
    hit = re.match(r"(.*[\d.,])\s*([^\d.,\s][^\d]*)\Z", typed, re.DOTALL | re.ASCII)
    if hit is None:
        return typed
    name = _unit_name(hit.group(2))
    if not name:
        own = " ".join(unit.casefold().split())
        return hit.group(1) if own and " ".join(hit.group(2).casefold().split()) == own else typed
    if unit and name == (_unit_name(unit) or unit):
        return hit.group(1)
    if name == "l" and not re.match(r".*[\d.,]\s", typed, re.DOTALL) and unit not in VOLUME_UNITS:
        return typed
    if not unit:
        return Refusal(
            f"{quoted(typed)} has a unit after it. Write the figure alone.",
            (hit.group(1).strip(),),
        )
    here = f"{quoted(typed)} is in {name}; this field is in {unit}."
    for table in (MASS_UNITS, VOLUME_UNITS):
        if name in table and unit in table:
            value = read_decimal(hit.group(1), locale)
            if isinstance(value, Refusal):
                return value
            same = _WIDE.divide(_WIDE.multiply(value, table[name]), table[unit])
            shown = as_typed(same.quantize(Decimal("0.0001"), context=_WIDE), locale)
            return Refusal(f"{here} That would be {shown} {unit}.", (shown,))
    return Refusal(here)


def _strange(body: str, typed: str, locale: str, unit: str) -> Refusal | None:
    """A refusal for text with anything but ASCII digits, signs, marks and spaces in it."""
    if re.fullmatch(rf"[0-9.,+\-{_SPACES}{_APOSTROPHES}]*", body) and re.search("[0-9]", body):
        return None
    example = as_typed(Decimal("1.5"), locale)
    digits = "".join(str(unicodedata.digit(mark, mark)) for mark in body)
    if digits != body and _PLAIN.match(digits):
        return Refusal(f"{quoted(typed)} is written in other digits. Write {digits}.", (digits,))
    fraction = _fraction(body)
    if fraction is not None:
        shown = as_typed(fraction, locale)
        return Refusal(f"{quoted(typed)} is a fraction. Write {shown}.", (shown,))
    if re.search(r"[½¼¾⅓⅔⅛⅜⅝⅞/]", body):
        return Refusal(f"{quoted(typed)} is a fraction. Write it with decimals, like {example}.")
    letter = next((mark for mark in body if mark in _LOOK_ALIKE), "")
    if letter and re.search("[0-9]", body):
        replaced = "".join(_LOOK_ALIKE.get(mark, mark) for mark in body)
        wrong = decimal_mark(locale)
        other = "," if wrong == "." else "."
        if other in replaced and wrong not in replaced and replaced.count(other) == 1:
            replaced = replaced.replace(other, wrong)
        meant = read_decimal(replaced, locale, unit=unit)
        if not isinstance(meant, Refusal):
            where = "ends in" if body.endswith(letter) else "has in it"
            return Refusal(
                f"{quoted(typed)} {where} the letter {letter}. Did you mean {replaced}?",
                (replaced,),
            )
    if re.fullmatch(r"[+-]?[0-9]*[.,]?[0-9]+[eE][+-]?[0-9]+", body):
        return Refusal(
            f"{quoted(typed)} is written with a power of ten. Write the figure out, like {example}."
        )
    if quoted(typed) == "“”":
        return Refusal(f"Only invisible characters stand here. Write a number, like {example}.")
    return Refusal(f"{quoted(typed)} is not a number. Write it in figures, like {example}.")


def _fraction(body: str) -> Decimal | None:
    """The value of "½", "1½" or "1/2" where decimals give it exactly in four places; else None."""
    hit = re.fullmatch(r"\s*([0-9]{0,6})\s*([½¼¾⅛⅜⅝⅞])\s*", body)
    if hit:
        eighths = {"½": 4, "¼": 2, "¾": 6, "⅛": 1, "⅜": 3, "⅝": 5, "⅞": 7}[hit.group(2)]
        return (Decimal(hit.group(1) or 0) + Decimal(eighths) / 8).normalize()
    hit = re.fullmatch(r"\s*([0-9]{1,6})\s*/\s*([0-9]{1,6})\s*", body)
    if hit and int(hit.group(2)):
        top, bottom = int(hit.group(1)), int(hit.group(2))
        if top * 10_000 % bottom == 0:
            return (Decimal(top * 10_000 // bottom) / 10_000).normalize()
    return None


def _ungrouped(body: str, typed: str, mark: str, group: str) -> str | Refusal:
    """Digits with at most one decimal mark (the locale's), thousands no longer parted."""
    sign = body[0] if body[:1] in {"+", "-"} else ""
    rest = body[len(sign) :].strip(_SPACES)
    if "+" in rest or "-" in rest:
        return Refusal(f"{quoted(typed)} has a sign inside it. Write one figure.")
    for parting in (*_SPACES, *_APOSTROPHES):
        if parting in rest:
            if not re.fullmatch(rf"[0-9]{{1,3}}(?:{re.escape(parting)}[0-9]{{3}})+(?:[.,][0-9]*)?", rest):
                joined = sign + re.sub(rf"[{_SPACES}{_APOSTROPHES}]", "", rest)
                what = "an apostrophe" if parting in _APOSTROPHES else "a space"
                return Refusal(
                    f"{quoted(typed)} has {what} in it. Did you mean {joined}?",
                    (joined,),
                )
            rest = rest.replace(parting, "")
    other = "," if mark == "." else "."
    return _marks_settled(sign, rest, typed, mark, other, group)


def _marks_settled(sign: str, rest: str, typed: str, mark: str, other: str, group: str) -> str | Refusal:
    """``sign`` and ``rest`` with points and commas understood, or why they can't be."""
    names = {".": "point", ",": "comma"}
    if other not in rest:
        if rest.count(mark) > 1:
            joined = sign + rest.replace(mark, "")
            return Refusal(
                f"{quoted(typed)} has {rest.count(mark)} {names[mark]}s. One parts the decimals.",
                (joined,),
            )
        return sign + rest
    grouped = re.fullmatch(rf"[0-9]{{1,3}}(?:{re.escape(other)}[0-9]{{3}})+", rest.partition(mark)[0])
    if mark in rest:
        if grouped and group == other and rest.count(mark) == 1:
            return sign + rest.replace(other, "")
        if rest.count(other) == 1 and rest.index(other) > rest.rindex(mark):
            meant = sign + rest.replace(mark, "").replace(other, mark)
            return Refusal(
                f"{quoted(typed)} has its decimals after a {names[other]}; here a {names[mark]} parts them. "
                f"Did you mean {meant}?",
                (meant,),
            )
        return Refusal(f"{quoted(typed)} mixes points and commas. Write it with one {names[mark]}.")
    if rest.count(other) > 1:
        joined = sign + rest.replace(other, "")
        if grouped and group == other:
            return joined
        return Refusal(
            f"{quoted(typed)} has {rest.count(other)} {names[other]}s. Did you mean {joined}?",
            (joined,),
        )
    meant = sign + rest.replace(other, mark)
    if grouped and not rest.startswith("0"):
        joined = sign + rest.replace(other, "")
        return Refusal(
            f"{quoted(typed)} can be read as {joined} or as {meant}. Write one of the two.",
            (joined, meant),
        )
    return Refusal(
        f"{quoted(typed)} has a {names[other]}; decimals stand after a {names[mark]} here. "
        f"Did you mean {meant}?",
        (meant,),
    )


def _parsed(plain: str, typed: str, locale: str, mark: str) -> Decimal | Refusal:
    """The last word has the strict reader of babel; what it gives must be finite and the same figure."""
    canonical = plain.replace(mark, ".").removesuffix(".")
    own = Decimal(canonical)
    try:
        read = parse_decimal(
            canonical.replace(".", mark).lstrip("+"),
            locale=_locale(locale),
            strict=True,
        )
    except NumberFormatError:
        read = None
    if read is None or not read.is_finite() or read != own:
        return Refusal(f"{quoted(typed)} is not a number. Write it in figures.")
    return own if own else own.copy_abs()
