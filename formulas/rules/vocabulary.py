"""Closed lists that rules and records share by their words."""

from __future__ import annotations

LEAVE_ON = "leave-on"
RINSE_OFF = "rinse-off"
PRODUCT_KINDS = (LEAVE_ON, RINSE_OFF)

BODY_AREAS = ("body", "hands", "face", "eyes", "lips", "hair", "bath", "unknown")

PRODUCT_TYPES = (
    "",
    "hydroalcoholic fragrance",
    "deodorant",
    "make-up",
    "soap",
    "shampoo",
    "hand wash",
    "self-tanning",
    "sun protection",
    "toothpaste",
    "mouthwash",
    "nail",
)
"""Kinds of product that the annexes name; empty means none of these or not said."""

READ = "read"
SUPPLIER = "supplier"
CONFIRMED = "confirmed"
MEMORY = "memory"
BASES = (READ, SUPPLIER, CONFIRMED, MEMORY)

DECLARED = "declared"
WITHIN = "within"

PRESERVATIVE = "preservative"

MARKET_NAMES = {
    "EU": "the European Union",
    "US": "the United States",
    "GB": "Great Britain",
    "CA": "Canada",
    "AU": "Australia",
    "NZ": "New Zealand",
}
"""Where a product is sold, as a sentence names it."""
