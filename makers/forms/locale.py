"""How the maker at hand writes numbers; set per request beside the time zone, read by fields and filters."""

from __future__ import annotations

from contextvars import ContextVar

from makers.rules.reading import decimal_mark

DEFAULT_LOCALE = "en_IE"

_locale: ContextVar[str] = ContextVar("stillroom_locale", default=DEFAULT_LOCALE)


def activate(locale: str) -> None:
    """Read and show numbers as ``locale`` ("en_IE", "de_DE") writes them, in this request."""
    _locale.set(locale or DEFAULT_LOCALE)


def deactivate() -> None:
    """Go back to the default, at the end of a request."""
    _locale.set(DEFAULT_LOCALE)


def current_locale() -> str:
    """The locale of the maker at hand."""
    return _locale.get()


def current_mark() -> str:
    """The decimal mark of the maker at hand."""
    return decimal_mark(_locale.get())
