"""How figures, days and codes are written for people: rounding happens here and nowhere else.

Thousands are parted by a narrow no-break space (U+202F), a unit follows a no-break space (U+00A0), a minus is
the true minus (U+2212). A figure that would round to 0 without being 0 keeps its first two digits.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime
from decimal import (
    ROUND_CEILING,
    ROUND_FLOOR,
    ROUND_HALF_EVEN,
    Context,
    Decimal,
    DivisionByZero,
    InvalidOperation,
    Overflow,
)
from typing import Literal

from babel.numbers import get_currency_precision, get_currency_symbol

NARROW_SPACE = "\u202f"
NO_BREAK_SPACE = "\u00a0"
MINUS = "\u2212"
DASH_THAT_HOLDS = "\u2011"

Rounding = Literal["nearest", "down", "up"]

_ROUNDING: dict[str, str] = {
    "nearest": ROUND_HALF_EVEN,
    "down": ROUND_FLOOR,
    "up": ROUND_CEILING,
}
_WIDE = Context(prec=200, traps=[InvalidOperation, DivisionByZero, Overflow])

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
WEEKDAYS = (
    "Monday",
    "Tuesday",
    "Wednesday",
    "Thursday",
    "Friday",
    "Saturday",
    "Sunday",
)

GRAM_PLACES = (1, 4)
PERCENT_PLACES = (2, 8)
"""Fewest and most decimals of a column that is not told how many."""


def decimals_of(value: Decimal) -> int:
    """How many decimals ``value`` needs, idle zeros left out: 3 for 1.250."""
    if not value:
        return 0
    exponent = value.normalize(_WIDE).as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def rounded(value: Decimal, places: int, rounding: Rounding = "nearest") -> Decimal:
    """``value`` with exactly ``places`` decimals; "nearest" takes a tie to the even digit.

    rounding: "down" for what may not be overstated (net quantity, stock, time left), "up" for what may not
    be understated (what is needed, an exposure).
    """
    return value.quantize(Decimal(1).scaleb(-places), rounding=_ROUNDING[rounding], context=_WIDE)


def _written(value: Decimal, mark: str, sign: bool) -> str:
    whole, _, decimals = f"{abs(value):f}".partition(".")
    groups = re.sub(r"(?<=\d)(?=(?:\d{3})+$)", NARROW_SPACE, whole)
    before = MINUS if value < 0 else "+" if sign and value > 0 else ""
    return before + groups + (mark + decimals if decimals else "")


def number(
    value: Decimal | int,
    places: int,
    *,
    most: int | None = None,
    sign: bool = False,
    mark: str = ".",
    rounding: Rounding = "nearest",
) -> str:
    """A figure with ``places`` decimals, or as many as it needs up to ``most``.

    sign: write + before a figure above 0 (differences). mark: the decimal mark. Zero never has a sign.
    Raises ValueError for a value that is not finite.
    """
    value = Decimal(value)
    if not value.is_finite():
        raise ValueError(f"{value} can't be shown")
    shown = places if most is None else min(max(places, decimals_of(value)), max(most, places))
    result = rounded(value, shown, rounding)
    if not result and value:
        result = rounded(value, min(1 - value.adjusted(), decimals_of(value)), rounding)
    return _written(result, mark, sign)


def figure(
    value: Decimal | int,
    *,
    most: int = 4,
    mark: str = ".",
    rounding: Rounding = "nearest",
) -> str:
    """A figure in a sentence: no idle zeros, at most ``most`` decimals."""
    return number(value, 0, most=most, mark=mark, rounding=rounding)


def padded(value: Decimal, places: int, *, mark: str = ".") -> tuple[str, str]:
    """The figure without idle zeros, and what has to be filled in so that points stand in one line.

    ``padded(Decimal("3.5"), 2)`` is ``("3.5", "0")``, ``padded(Decimal(25), 2)`` is ``("25", ".00")``.
    """
    shown = figure(value, most=places, mark=mark)
    _, point, decimals = shown.partition(mark)
    missing = "0" * max(0, places - len(decimals))
    return shown, (missing if point or not places else mark + missing)


def grams(
    value: Decimal,
    places: int | None = None,
    *,
    mark: str = ".",
    rounding: Rounding = "nearest",
) -> str:
    """Grams without their unit: one decimal at least, up to four where they were recorded."""
    least, most = GRAM_PLACES
    if places is not None:
        return number(value, places, mark=mark, rounding=rounding)
    return number(value, least, most=most, mark=mark, rounding=rounding)


def percent(
    value: Decimal,
    places: int | None = None,
    *,
    mark: str = ".",
    rounding: Rounding = "nearest",
) -> str:
    """Percent without its sign: two decimals at least, up to eight where they were recorded."""
    least, most = PERCENT_PLACES
    if places is not None:
        return number(value, places, mark=mark, rounding=rounding)
    return number(value, least, most=most, mark=mark, rounding=rounding)


def money(value: Decimal, currency: str, *, mark: str = ".", exact: bool = False) -> str:
    """An amount of money with its sign: ``14.98 €``. exact: keep up to 4 places (a price per gram).

    currency: three letters (ISO 4217); one that is not known is written as it is.
    """
    places = get_currency_precision(currency)
    shown = number(value, places, most=4 if exact else None, mark=mark)
    return with_unit(shown, currency_sign(currency))


def currency_sign(currency: str) -> str:
    """The sign of a currency (three letters, ISO 4217), or the letters where it has none: ``€``."""
    return get_currency_symbol(currency, locale="en")


def with_unit(figure_text: str, unit: str) -> str:
    """The figure, a no-break space, the unit; blanks inside the unit don't break either."""
    if not unit:
        return figure_text
    return f"{figure_text}{NO_BREAK_SPACE}{unit.replace(' ', NO_BREAK_SPACE)}"


def plural(count: Decimal | int, one: str, many: str = "") -> str:
    """The word that goes with a count: "jar" for 1, "jars" for every other."""
    return one if count == 1 else many or one + "s"


def units(count: int, one: str, many: str = "") -> str:
    """A count with its word: ``46 jars``."""
    return with_unit(number(count, 0), plural(count, one, many))


def in_a_row(words: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def day_iso(day: date) -> str:
    """2026-11-25, for tables."""
    return f"{day.year:04d}-{day.month:02d}-{day.day:02d}"


def day_fact(day: date) -> str:
    """25 Nov 2026, for facts and sentences; doesn't break."""
    return NO_BREAK_SPACE.join((str(day.day), MONTHS[day.month - 1][:3], str(day.year)))


def day_title(day: date) -> str:
    """Wednesday 25 November, for titles."""
    return f"{WEEKDAYS[day.weekday()]} {day.day}{NO_BREAK_SPACE}{MONTHS[day.month - 1]}"


def day_full(day: date) -> str:
    """Wednesday 25 November 2026."""
    return f"{day_title(day)} {day.year}"


def month(day: date) -> str:
    """May 2028."""
    return f"{MONTHS[day.month - 1]}{NO_BREAK_SPACE}{day.year}"


def clock(at: datetime) -> str:
    """14:32, in the zone that ``at`` has."""
    return f"{at.hour:02d}:{at.minute:02d}"


def moment(at: datetime, today: date | None = None, *, word: str = "Today") -> str:
    """When something happened: "Today 14:32", "Tue 17:20" within six days, else "24 Nov 11:05".

    at: in the maker's zone. today: the maker's date; without it the day is always written out. A year that is
    not this one is written too. word: for today, "today" within a sentence.
    """
    day = at.date()
    if today is not None:
        past = (today - day).days
        if past == 0:
            return f"{word} {clock(at)}"
        if 0 < past <= 6:
            return f"{WEEKDAYS[day.weekday()][:3]} {clock(at)}"
    if today is not None and day.year == today.year:
        return f"{day.day}{NO_BREAK_SPACE}{MONTHS[day.month - 1][:3]} {clock(at)}"
    return f"{day_fact(day)} {clock(at)}"


def days_between(day: date, today: date) -> str:
    """ "today", "in 12 days", "3 days ago"."""
    days = (day - today).days
    if days == 0:
        return "today"
    size = units(abs(days), "day")
    return f"in {size}" if days > 0 else f"{size} ago"


def bytes_size(count: int) -> str:
    """210 kB, 1.4 MB; in thousands, rounded up so that a limit is never understated."""
    if count < 1000:
        return with_unit(str(count), plural(count, "byte"))
    if count < 1_000_000:
        return with_unit(str(-(-count // 1000)), "kB")
    return with_unit(number(Decimal(count) / 1_000_000, 1, rounding="up"), "MB")


_FIGURE = re.compile(
    r"(?<![\w.,\-\u2011/])(?:\d(?:[\d\u202f]*\d)?(?:[.,]\d+)?[ \u00a0]×[ \u00a0])?"
    r"[+\u2212-]?\d(?:[\d\u202f]*\d)?(?:[.,]\d+)?"
    r"(?:[ \u00a0\u202f](?:%|g/ml|g|kg|mg|ml|l|oz|lb|fl oz|mm|cm|°C|°F)(?![\w/]))"
)
_CODE = re.compile(r"(?<![\w-])(?:\d{4}-\d\d-\d\d|[A-Z0-9]{1,4}-[A-Z]?\d{2,6}(?:-[A-Z]{1,3})?)(?![\w-])")

_DECIMAL = re.compile(r"(?<![\w.,:/\u2011-])(\d[\d\u202f]*)\.(\d+)(?![\w(/-]|[.,]\d)")
_AS_WRITTEN = re.compile(r"“[^”]*”|\S*://\S*|(?:CFR|ISO|§|Art\.|[Ss]ection|[Vv]ersion)\s*[\d.]+")


def in_mark(sentence: str, mark: str) -> str:
    """A sentence whose figures stand with points, with another decimal mark.

    What is quoted as it was typed, addresses, and numbers of laws, standards and versions stay as they are.
    """
    if mark == ".":
        return sentence
    shown: list[str] = []
    at = 0
    for kept in _AS_WRITTEN.finditer(sentence):
        shown += [_DECIMAL.sub(rf"\g<1>{mark}\g<2>", sentence[at : kept.start()]), kept.group()]
        at = kept.end()
    return "".join([*shown, _DECIMAL.sub(rf"\g<1>{mark}\g<2>", sentence[at:])])


Piece = tuple[Literal["text", "figure", "code"], str]


def pieces(sentence: str) -> list[Piece]:
    """A sentence cut into words, figures with their unit (made no-break) and codes, in order."""
    found: list[Piece] = []
    at = 0
    hits = sorted(
        [("figure", hit) for hit in _FIGURE.finditer(sentence)]
        + [("code", hit) for hit in _CODE.finditer(sentence)],
        key=lambda pair: pair[1].start(),
    )
    for kind, hit in hits:
        if hit.start() < at:
            continue
        if hit.start() > at:
            found.append(("text", sentence[at : hit.start()]))
        if kind == "figure":
            found.append(("figure", re.sub(r"[ \u202f](?=[^\d])", NO_BREAK_SPACE, hit.group())))
        else:
            found.append(("code", hit.group()))
        at = hit.end()
    if at < len(sentence):
        found.append(("text", sentence[at:]))
    return found
