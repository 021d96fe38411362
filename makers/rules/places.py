"""Countries, and what is usual in each: currency, time zones, how numbers are typed.

Facts come from the general-purpose libraries babel (CLDR) and tzdata (the IANA zone table).
"""

from __future__ import annotations

from decimal import Decimal
from functools import cache
from importlib.resources import files

from babel import Locale, UnknownLocaleError
from babel.languages import get_official_languages
from babel.numbers import format_decimal, get_territory_currencies

NUMBER_STYLES = (
    "en_IE", "en_US", "en_GB", "en_CA", "en_AU", "en_NZ", "de_DE", "de_AT", "de_CH", "fr_FR", "fr_CA", "nl_NL",
    "es_ES", "it_IT", "pt_PT", "sv_SE", "da_DK", "fi_FI", "nb_NO", "pl_PL", "cs_CZ", "el_GR",
)  # fmt: skip
EU = frozenset("AT BE BG HR CY CZ DK EE FI FR DE GR HU IE IT LV LT LU MT NL PL PT RO SK SI ES SE".split())
EEA = EU | {"IS", "LI", "NO"}
HOME_MARKET = {"GB": "GB", "US": "US", "CA": "CA", "AU": "AU", "NZ": "NZ"}


@cache
def countries() -> tuple[tuple[str, str], ...]:
    """(code, English name) of every country, by name."""
    names = Locale("en").territories
    zones = country_zones()
    found = [(code, str(name)) for code, name in names.items() if code in zones]
    return tuple(sorted(found, key=lambda pair: pair[1]))


@cache
def country_zones() -> dict[str, tuple[str, ...]]:
    """Time zones by country code, in the order of the zone table."""
    found: dict[str, list[str]] = {}
    table = files("tzdata.zoneinfo").joinpath("zone.tab").read_text(encoding="utf-8")
    for line in table.splitlines():
        if line and not line.startswith("#"):
            code, _, zone, *_ = line.split("\t")
            found.setdefault(code, []).append(zone)
    return {code: tuple(zones) for code, zones in found.items()}


def usual_currency(country: str) -> str:
    """The currency in use in a country; EUR where the table has none."""
    found = get_territory_currencies(country)
    return str(found[-1]) if found else "EUR"


def usual_zone(country: str) -> str:
    """The first time zone of a country; UTC where the table has none."""
    return country_zones().get(country, ("UTC",))[0]


def usual_style(country: str) -> str:
    """How numbers are usually typed in a country: one of NUMBER_STYLES."""
    for language in ("en", *get_official_languages(country, regional=True, de_facto=True)):
        if f"{language}_{country}" in NUMBER_STYLES:
            return f"{language}_{country}"
    for language in get_official_languages(country, regional=True, de_facto=True):
        for style in NUMBER_STYLES:
            if style.startswith(f"{language}_"):
                return style
    return "en_IE"


def usual_markets(country: str) -> list[str]:
    """Where a maker of this country most likely sells: home first."""
    if country in EEA:
        return ["EU"]
    return [HOME_MARKET[country]] if country in HOME_MARKET else []


@cache
def number_styles() -> tuple[tuple[str, str], ...]:
    """(style, example and name) for a list to choose from."""
    found = []
    for style in NUMBER_STYLES:
        try:
            locale = Locale.parse(style)
        except UnknownLocaleError:
            continue
        example = format_decimal(Decimal("12345.6"), locale=style)
        found.append((style, f"{example} ({locale.get_display_name('en')})"))
    return tuple(found)
