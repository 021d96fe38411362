"""Suppliers and ingredients of the demo. Every supplier is invented; figures are plausible, nobody's sheet."""

from __future__ import annotations

from typing import NamedTuple

SUPPLIERS = {
    "kelpwright": ("Kelpwright & Daughter, oils and waxes", "IE", "orders@kelpwright.example"),
    "lindenquist": ("Lindenquist Naturstoffe", "DE", "kontor@lindenquist.example"),
    "fougerelune": ("Fougerelune Essences", "FR", "bonjour@fougerelune.example"),
    "merrowmere": ("Merrowmere Laboratory Goods", "IE", "desk@merrowmere.example"),
    "petrel": ("Petrelwick Dried Flowers", "GB", "hello@petrelwick-flowers.example"),
    "saltglass": ("Saltglass Jars and Tins", "IE", "sales@saltglass.example"),
}


class Material(NamedTuple):
    """key in the catalogue, name here ("" for the catalogue's), suppliers (the first is preferred), low stock g."""

    key: str
    name: str
    suppliers: tuple[str, ...]
    low_stock_g: int = 0
    price: tuple[str, str] = ("", "")


MATERIALS = (
    Material("beeswax", "Beeswax", ("kelpwright",), 1000, ("21.50", "1000")),
    Material("candelilla-wax", "Candelilla wax", ("kelpwright",)),
    Material("shea-butter", "Shea butter", ("kelpwright",), 1500, ("34.00", "3000")),
    Material("cocoa-butter", "Cocoa butter", ("kelpwright",), 1000, ("48.00", "3000")),
    Material("mango-butter", "Mango butter", ("kelpwright",), 0, ("27.90", "1500")),
    Material("jojoba-oil", "Jojoba oil", ("kelpwright",), 0, ("29.00", "1000")),
    Material("castor-oil", "Castor oil", ("kelpwright",), 0, ("9.80", "1000")),
    Material(
        "sunflower-oil-high-oleic", "Sunflower oil, high oleic", ("lindenquist",), 3000, ("31.00", "5000")
    ),
    Material("fractionated-coconut-oil", "Fractionated coconut oil", ("lindenquist",)),
    Material("sweet-almond-oil", "Sweet almond oil", ("lindenquist",)),
    Material("emulsifying-wax-non-ionic", "Emulsifying wax", ("lindenquist",)),
    Material("cetearyl-alcohol", "Cetearyl alcohol", ("lindenquist",)),
    Material("vitamin-e-mixed-tocopherols", "Vitamin E", ("lindenquist", "merrowmere"), 0, ("24.00", "250")),
    Material("lavender-oil", "Lavender oil", ("fougerelune", "petrel"), 60, ("38.00", "150")),
    Material("sweet-orange-cold-pressed-oil", "Sweet orange oil", ("fougerelune",), 0, ("9.60", "100")),
    Material("peppermint-oil", "Peppermint oil", ("fougerelune",)),
    Material("calendula-petals", "Calendula petals, dried", ("petrel",), 150, ("19.00", "200")),
    Material(
        "rosemary-antioxidant-extract", "Rosemary antioxidant extract", ("petrel",), 0, ("22.50", "200")
    ),
    Material("sugar", "Sugar, fine", ("petrel",)),
    Material("salt", "Sea salt, fine", ("petrel",)),
    Material("arrowroot-powder", "Arrowroot powder", ("petrel",), 0, ("8.20", "500")),
    Material("kaolin-white-clay", "White clay", ("merrowmere",)),
    Material("purified-water", "Purified water", ("merrowmere",), 3000),
    Material("glycerin", "Glycerin", ("merrowmere",)),
    Material("aloe-juice", "Aloe juice", ("merrowmere",), 150),
    Material("xanthan-gum", "Xanthan gum", ("merrowmere",)),
    Material("allantoin", "Allantoin", ("merrowmere",)),
    Material("provitamin-b5", "Provitamin B5, 75 %", ("merrowmere",)),
    Material("benzyl-alcohol-dehydroacetic-acid-blend", "Preservative BA-DHA", ("merrowmere",), 50),
    Material("disodium-edta", "Disodium EDTA", ("merrowmere",)),
    Material("lactic-acid-80-90", "Lactic acid, 80 %", ("merrowmere",)),
)

Part = tuple[str, str, str, str, str]
"""INCI name, kind, low, typical, high; percent of the ingredient, "" for not given."""


def _declared(*parts: tuple[str, str]) -> tuple[Part, ...]:
    return tuple((name, "declared", "", typical, "") for name, typical in parts)


def _oil(name: str, *within: tuple[str, str, str, str]) -> tuple[Part, ...]:
    return (
        (name, "declared", "", "100", ""),
        *((sub, "within", low, mid, high) for sub, low, mid, high in within),
    )


class Sheet(NamedTuple):
    """A composition from a supplier's sheet, with whether it states the perfume allergens."""

    key: str
    supplier: str
    parts: tuple[Part, ...]
    allergens_stated: bool = False


SHEETS = (
    Sheet(
        "vitamin-e-mixed-tocopherols", "lindenquist",
        _declared(("Tocopherol", "70"), ("Helianthus Annuus Seed Oil", "30")),
    ),
    Sheet(
        "vitamin-e-mixed-tocopherols", "merrowmere",
        _declared(("Tocopherol", "95"), ("Glycine Soja Oil", "5")),
    ),
    Sheet(
        "rosemary-antioxidant-extract", "petrel",
        _declared(("Helianthus Annuus Seed Oil", "80"), ("Rosmarinus Officinalis Leaf Extract", "20")),
    ),
    Sheet("provitamin-b5", "merrowmere", _declared(("Panthenol", "75"), ("Aqua", "25"))),
    Sheet("lactic-acid-80-90", "merrowmere", _declared(("Lactic Acid", "80"), ("Aqua", "20"))),
    Sheet(
        "emulsifying-wax-non-ionic", "lindenquist",
        _declared(("Cetearyl Alcohol", "75"), ("Polysorbate 60", "25")),
    ),
    Sheet(
        "benzyl-alcohol-dehydroacetic-acid-blend", "merrowmere",
        _declared(("Benzyl Alcohol", "87"), ("Dehydroacetic Acid", "8"), ("Aqua", "5")),
    ),
    Sheet(
        "lavender-oil", "fougerelune",
        _oil(
            "Lavandula Angustifolia Oil",
            ("Linalool", "28", "33", "38"), ("Linalyl Acetate", "30", "35", "40"), ("Limonene", "0.1", "0.3", "0.5"),
            ("Geraniol", "0.2", "0.4", "0.8"), ("Coumarin", "0", "0.05", "0.1"),
        ),
        True,
    ),
    Sheet(
        "lavender-oil", "petrel",
        _oil(
            "Lavandula Angustifolia Oil",
            ("Linalool", "22", "26", "30"), ("Linalyl Acetate", "25", "29", "33"), ("Limonene", "0.5", "0.9", "1.4"),
            ("Geraniol", "0.1", "0.3", "0.6"), ("Coumarin", "0.05", "0.1", "0.2"),
        ),
        True,
    ),
    Sheet(
        "sweet-orange-cold-pressed-oil", "fougerelune",
        _oil(
            "Citrus Aurantium Dulcis Peel Oil",
            ("Limonene", "93", "95", "97"), ("Linalool", "0.3", "0.5", "0.7"), ("Citral", "0.05", "0.1", "0.2"),
        ),
        True,
    ),
    Sheet(
        "peppermint-oil", "fougerelune",
        _oil(
            "Mentha Piperita Oil",
            ("Menthol", "36", "41", "46"), ("Limonene", "1", "2", "3"), ("Linalool", "0.1", "0.2", "0.4"),
        ),
        True,
    ),
)  # fmt: skip

HEAT = {"lavender-oil": "60", "sweet-orange-cold-pressed-oil": "60", "peppermint-oil": "60"}
"""Highest temperature, degrees Celsius, at which this workshop adds an oil: its own practice."""
