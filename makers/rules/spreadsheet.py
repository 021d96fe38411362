"""Cells that a spreadsheet program opens without running anything."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

STARTS = ("=", "+", "-", "@", "\t", "\r")


def safe_cell(value: Any) -> str:
    """A CSV cell as text; text that a spreadsheet would take for a formula gets an apostrophe in front.

    Numbers keep their sign: only text is touched. Decimals are written in full, without exponent.
    """
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value)
    text = str(value).replace("\x00", "")
    return f"'{text}" if text.startswith(STARTS) else text
