"""How long a water-free product sets in the room: common practice, no source."""

from __future__ import annotations

from decimal import Decimal

SETS_OVERNIGHT_C = Decimal(18)
"""In a room so cool or cooler it sets overnight."""
LINGERS_C = Decimal(27)
"""In a room so warm or warmer it lingers."""

SETTING_FORMS = frozenset({"balm", "bar"})
"""Products that set by cooling; a cream and a scrub are none."""


def setting_words(room_c: Decimal, form: str) -> str:
    """What the room's temperature (°C) says of setting; "" for a form that sets by nothing, or a room between."""
    if form not in SETTING_FORMS:
        return ""
    if room_c <= SETS_OVERNIGHT_C:
        return "In a room this cool it sets overnight."
    if room_c >= LINGERS_C:
        return "In a room this warm it lingers: set it somewhere cooler, near 18 °C it sets overnight."
    return ""
