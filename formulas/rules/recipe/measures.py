"""The closed list of measures that a recipe may name, and the words for them. No unit library sees typed text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Literal

from formulas.rules.tables import read_table

MeasureKind = Literal["mass", "volume", "share", "part", "bare"]

REGIONS: dict[str, str] = {
    "us": "United States: cup 236.6 ml, tablespoon 14.8 ml",
    "metric": "Metric: cup 250 ml, tablespoon 15 ml",
    "au": "Australia: cup 250 ml, tablespoon 20 ml",
    "imperial": "Imperial: cup 284 ml, old spoons",
}

WORDS: dict[str, tuple[str, ...]] = {
    "mg": ("mg", "milligram", "milligrams"),
    "g": ("g", "gm", "gms", "gram", "grams", "gramme", "grammes", "gramm", "gramo", "gramos", "grammo", "grammi"),
    "kg": ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramm"),
    "grain": ("grain", "grains"),
    "oz": ("oz", "ozs", "ounce", "ounces"),
    "lb": ("lb", "lbs", "pound", "pounds"),
    "ml": ("ml", "mls", "millilitre", "millilitres", "milliliter", "milliliters", "mililitros", "millilitri"),
    "cl": ("cl", "centilitre", "centilitres"),
    "dl": ("dl", "decilitre", "decilitres"),
    "l": ("l", "litre", "litres", "liter", "liters"),
    "tsp": ("tsp", "tsps", "teaspoon", "teaspoons", "teaspoonful", "teaspoonfuls"),
    "tbsp": ("tbsp", "tbsps", "tbs", "tbl", "tblsp", "tablespoon", "tablespoons", "tablespoonful", "tablespoonfuls"),
    "cup": ("cup", "cups", "cupful", "cupfuls"),
    "fl oz": ("fl oz", "floz", "fluid oz", "fluid ounce", "fluid ounces", "fl ounce", "fl ounces"),
    "pint": ("pint", "pints"),
    "quart": ("quart", "quarts", "qt", "qts"),
    "drop": ("drop", "drops", "gtt", "gtts", "tropfen", "trpf", "goutte", "gouttes", "gttes", "gota", "gotas",
             "goccia", "gocce", "druppel", "druppels"),
    "part": ("part", "parts"),
    "%": ("%", "percent", "per cent", "pct"),
}  # fmt: skip

_TBSP = (
    "esslöffel",
    "cucharada",
    "cucharadas",
    "cucchiaio",
    "cucchiai",
    "c à s",
    "cuillère à soupe",
    "cuillères à soupe",
    "c à soupe",
    "cda",
    "cdas",
    "eetlepel",
    "eetlepels",
)
_TSP = (
    "teelöffel", "cucharadita", "cucharaditas", "cucchiaino", "cucchiaini", "c à c", "cuillère à café",
    "cuillères à café", "c à café", "cdta", "cdtas", "theelepel", "theelepels",
)  # fmt: skip

UNSURE: dict[str, tuple[str, ...]] = {
    "gr": ("g", "grain"),
    "grs": ("g", "grain"),
    "c": ("cup",),
    "cc": ("ml", "tsp"),
    **dict.fromkeys(_TBSP, ("tbsp",)),
    **dict.fromkeys(_TSP, ("tsp",)),
}
"""Words that people use for more than one measure, or for one of other countries, and what they may mean."""

CAPITALS: dict[str, tuple[str, ...]] = {"EL": ("tbsp",), "TL": ("tsp",)}
"""Spoons of German recipes, which are measures in capitals alone."""

SPOONS = ("t", "T", "Tb", "tb", "TB")
"""Spoons told apart by a capital alone, which not everybody writes."""

VAGUE = frozenset(
    "pinch pinches dash dashes handful handfuls splash splashes scoop scoops capful capfuls dollop dollops stick "
    "sticks squirt squirts pump pumps smidgen bit bits knob knobs sprig sprigs bunch bunches spoon spoons "
    "spoonful spoonfuls can cans jar jars bottle bottles packet packets pack packs bag bags bar bars block blocks "
    "capsule capsules tablet tablets piece pieces pc pcs tub tubs pot pots tin tins sachet sachets cube cubes "
    "tube tubes vial vials ampoule ampoules dessertspoon dessertspoons".split()
)
"""Measures that have no size, or another one in each house."""

BARE = ("g", "ml", "tsp", "tbsp", "cup", "drop", "part", "%")
"""What a number without a unit may have meant."""


@dataclass(frozen=True, slots=True)
class Measure:
    """The size of one measure: grams for a mass, millilitres for a volume; low and high differ where tables do."""

    key: str
    name: str
    kind: MeasureKind
    low: Decimal
    high: Decimal
    source: str
    basis: str


@cache
def measures() -> Mapping[tuple[str, str], Measure]:
    """All measures by (key, region); region "any" holds everywhere."""
    found = {}
    for row in read_table("measures.csv"):
        kind: MeasureKind = "mass" if row["kind"] == "mass" else "volume"
        size = (Decimal(row["low"]), Decimal(row["high"]))
        one = Measure(row["key"], row["name"], kind, *size, row["source"], row["basis"])
        found[row["key"], row["region"]] = one
    return found


def measure(key: str, region: str) -> Measure | None:
    """The measure as it is in a region; None where the region has none of that name."""
    return measures().get((key, "any")) or measures().get((key, region))


def kind_of(key: str) -> MeasureKind:
    """What a measure says. "" is a number alone."""
    if key == "":
        return "bare"
    if key == "%":
        return "share"
    if key == "part":
        return "part"
    return next(one.kind for (name, _), one in measures().items() if name == key)
