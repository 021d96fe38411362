"""Currencies by their three letters (ISO 4217), from the library of locale data."""

from __future__ import annotations

from babel.numbers import get_currency_precision, list_currencies


def is_currency(code: str) -> bool:
    """Whether three capital letters name a currency, one in use or one of earlier days."""
    return code in list_currencies()


def minor_places(code: str) -> int:
    """Decimals of the currency's minor unit as it is used for prices: 2 for EUR, 0 for JPY, 3 for KWD."""
    return int(get_currency_precision(code))
