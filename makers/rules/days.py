"""Reading days as people type them. A day that can be read in two ways is not read."""

from __future__ import annotations

import re
from calendar import monthrange
from datetime import date

from makers.rules.display import MONTHS, day_fact, day_iso
from makers.rules.reading import Refusal, quoted

FIRST_YEAR, LAST_YEAR = 1900, 2199

_MONTH_NAMES = {name.casefold()[:3]: place for place, name in enumerate(MONTHS, 1)}
_EXAMPLE = "Write it like 2026-11-25 or 25 Nov 2026."
_MONTH_EXAMPLE = "Write it like 2028-05-31, or 05/2028 for the whole month."


def read_day(text: str, *, month_end: bool = False) -> date | Refusal:
    """Read 2026-11-25, 25.11.2026, 25/11/2026 or 25 Nov 2026.

    month_end: "05/2028" and "May 2028" are read as the last day of that month (dates on packs). "04/05/2026"
    is refused with both days: here and over the ocean it means different ones. Never raises for any text.
    """
    typed = " ".join(text.split())
    example = _MONTH_EXAMPLE if month_end else _EXAMPLE
    if not typed:
        return Refusal("Write a day here. " + example)
    if len(typed) > 40 or not typed.isprintable():
        return Refusal(f"{quoted(typed)} is not a day. {example}")
    if month_end and (last := _month(typed)) is not None:
        return last
    if hit := re.fullmatch(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})", typed, re.ASCII):
        return _day(int(hit[1]), int(hit[2]), int(hit[3]), typed, example)
    if hit := re.fullmatch(r"(\d{1,2})\.? ?([^\W\d_]{3,9})\.?,? ?(\d{4})", typed):
        return _named(hit[1], hit[2], hit[3], typed, example)
    if hit := re.fullmatch(r"([^\W\d_]{3,9})\.? (\d{1,2}),? (\d{4})", typed):
        return _named(hit[2], hit[1], hit[3], typed, example)
    if hit := re.fullmatch(r"(\d{1,2})([./-])(\d{1,2})[./-](\d{4})", typed, re.ASCII):
        return _numbered(int(hit[1]), hit[2], int(hit[3]), int(hit[4]), typed, example)
    if re.fullmatch(r"\d{1,2}[./-]\d{1,2}[./-]\d{2}", typed, re.ASCII):
        return Refusal(f"{quoted(typed)} has a year of two figures. {example}")
    return Refusal(f"{quoted(typed)} is not a day. {example}")


def _month(typed: str) -> date | Refusal | None:
    """The last day of a month written without a day, or None when the text is something else."""
    year = number = 0
    if hit := re.fullmatch(r"(\d{1,2})[-/. ](\d{4})", typed, re.ASCII):
        number, year = int(hit[1]), int(hit[2])
    elif hit := re.fullmatch(r"(\d{4})[-/.](\d{1,2})", typed, re.ASCII):
        year, number = int(hit[1]), int(hit[2])
    elif hit := re.fullmatch(r"([^\W\d_]{3,9})\.? (\d{4})", typed):
        number, year = _MONTH_NAMES.get(hit[1].casefold()[:3], 0), int(hit[2])
    if not year:
        return None
    if not (1 <= number <= 12 and FIRST_YEAR <= year <= LAST_YEAR):
        return Refusal(f"{quoted(typed)} is not a month. {_MONTH_EXAMPLE}")
    return date(year, number, monthrange(year, number)[1])


def _numbered(first: int, mark: str, second: int, year: int, typed: str, example: str) -> date | Refusal:
    """A day of three numbers, year last: day first, unless only the other order is possible."""
    if mark != "." and first != second and 1 <= first <= 12 and 1 <= second <= 12:
        one, two = _day(year, second, first, typed, example), _day(year, first, second, typed, example)
        if isinstance(one, date) and isinstance(two, date):
            return Refusal(
                f"{quoted(typed)} can be {day_fact(one)} or {day_fact(two)}. "
                f"Write {day_iso(one)} or {day_iso(two)}.",
                (day_iso(one), day_iso(two)),
            )
    if second > 12 and first <= 12 and mark != ".":
        return _day(year, first, second, typed, example)
    return _day(year, second, first, typed, example)


def _named(day: str, month: str, year: str, typed: str, example: str) -> date | Refusal:
    number = _MONTH_NAMES.get(month.casefold()[:3], 0)
    full = MONTHS[number - 1].casefold() if number else ""
    name = month.casefold()
    if not number or not (full.startswith(name) or (number == 9 and name == "sept")) or not day.isascii():
        return Refusal(f"{quoted(typed)} names no month. {example}")
    return _day(int(year), number, int(day), typed, example)


def _day(year: int, month: int, day: int, typed: str, example: str) -> date | Refusal:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        return Refusal(f"{quoted(typed)} is in the year {year}. {example}")
    if not 1 <= month <= 12:
        return Refusal(f"{quoted(typed)} has no month {month}. {example}")
    last = monthrange(year, month)[1]
    if not 1 <= day <= last:
        return Refusal(f"{MONTHS[month - 1]} {year} has {last} days; {quoted(typed)} names day {day}.")
    return date(year, month, day)
