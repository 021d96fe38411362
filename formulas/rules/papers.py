"""How old a paper is by the day that it bears."""

from __future__ import annotations

from datetime import date

OLD_AFTER_YEARS = 3
"""A data or safety sheet that is older is asked for anew. Common practice, no source."""

OF_ONE_LOT = frozenset({"certificate", "photo"})
"""Kinds of papers that speak of one lot or one moment: they are right for it however old they are."""


def whole_years(issued: date, today: date) -> int:
    """Full years since a paper was issued; 0 for one dated later than today. 29 February counts on 1 March."""
    return max(0, today.year - issued.year - ((today.month, today.day) < (issued.month, issued.day)))


def is_old(kind: str, issued: date, today: date) -> bool:
    """Whether a newer one is to be asked for. On the day itself it is within; certificates don't age."""
    if kind in OF_ONE_LOT:
        return False
    years = whole_years(issued, today)
    on_the_day = (issued.month, issued.day) == (today.month, today.day)
    return years > OLD_AFTER_YEARS or (years == OLD_AFTER_YEARS and not on_the_day)


def age(issued: date, today: date) -> str:
    """How old it is, in words; "" within its first year."""
    years = whole_years(issued, today)
    return "" if years == 0 else f"{years} year{'s' * (years > 1)} old"
