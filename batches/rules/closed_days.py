"""Public holidays as plain sets of days; the only module that knows the library they come from.

The sets differ by State, Territory and region, and are changed by proclamation: show which set was used and
let the maker add a day.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from functools import cache

import holidays

AU_REGIONS = ("ACT", "NSW", "NT", "QLD", "SA", "TAS", "VIC", "WA")


def us_federal(years: Iterable[int]) -> frozenset[date]:
    """United States federal holidays with the days on which they are observed."""
    return _days("US", "", tuple(sorted(set(years))))


def australian(region: str, years: Iterable[int]) -> frozenset[date]:
    """Holidays of one State or Territory of ``AU_REGIONS``. Raises ValueError for another."""
    if region not in AU_REGIONS:
        raise ValueError(f"{region!r} is no State or Territory of {', '.join(AU_REGIONS)}")
    return _days("AU", region, tuple(sorted(set(years))))


def new_zealand(years: Iterable[int]) -> frozenset[date]:
    """National holidays of New Zealand. The closed days from 25 December to 2 January are not in it."""
    return _days("NZ", "", tuple(sorted(set(years))))


@cache
def _days(country: str, region: str, years: tuple[int, ...]) -> frozenset[date]:
    return frozenset(holidays.country_holidays(country, subdiv=region or None, years=years, observed=True))
