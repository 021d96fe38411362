"""The starter catalogue: reference facts about raw materials and substances, one loader per file.

A supplier's document always wins over these figures. Basis "memory" is shown as such; "part read" means
that the fields in ``read_fields`` were seen in the source and the rest is memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from formulas.rules.composition import Composition, Constituent
from formulas.rules.tables import DATA, read_table
from formulas.rules.uselevels import UseLevel
from formulas.rules.vocabulary import MEMORY, READ
from makers.rules.tables import number_or_none, read_rows

PRACTICE = "common practice, no source"
HANDBOOKS = "general handbook knowledge, no source"
PRACTICE_ENDS = f"use level and shelf life = {PRACTICE}"
"""What rows say whose other figures are from the source named: it says nothing of how much goes in."""


@dataclass(frozen=True, slots=True)
class CatalogueMaterial:
    """A raw material as bought. Temperatures in degrees Celsius, density in g/ml, use in % of the product.

    Every figure may be None = not known or not applicable. density_kind: liquid, melt, solid or bulk; only
    liquid and melt turn volume into mass.
    """

    key: str
    name: str
    plant_part: str
    role: str
    usual_phase: str
    soluble_in: str
    solubility_note: str
    form: str
    melting_low_c: Decimal | None
    melting_high_c: Decimal | None
    density_g_ml: Decimal | None
    density_kind: str
    use_low: Decimal | None
    use_high: Decimal | None
    add_below_c: Decimal | None
    ph_low: Decimal | None
    ph_high: Decimal | None
    dietary_source: str
    shelf_life_months: int | None
    is_perfume: bool
    facts: str
    source: str
    basis: str
    read_fields: frozenset[str]

    def basis_of(self, field: str) -> str:
        """ "read" for a field that was seen in the source, else "memory"."""
        return READ if self.basis == READ or field in self.read_fields else MEMORY

    def source_of(self, field: str) -> str:
        """What a field rests on: the works named, where it was seen in one; no work lends itself to the rest."""
        return HANDBOOKS if self.read_fields and self.basis_of(field) == MEMORY else self.source

    @property
    def use_levels(self) -> tuple[UseLevel, ...]:
        """The typical use level, by common practice, where an end is known; then those of kinds of product."""
        source = PRACTICE if PRACTICE_ENDS in self.source else self.source
        general = UseLevel(self.use_low, self.use_high, "any", source, self.basis_of("use_high"))
        known = () if self.use_low is None and self.use_high is None else (general,)
        return (*known, *kind_levels().get(self.key, ()))


@dataclass(frozen=True, slots=True)
class Substance:
    """A chemical or botanical identity.

    us_name: "" where no US label name is known (with its own basis). cas: several numbers with semicolons.
    allergen_label: the name under which the EU list of fragrance allergens has it, "" if it isn't listed.
    """

    key: str
    inci_name: str
    us_name: str
    us_name_basis: str
    cas: str
    is_colourant: bool
    is_perfume: bool
    is_flavour: bool
    allergen_label: str
    function: str
    source: str
    basis: str
    edition: str


@dataclass(frozen=True, slots=True)
class OilConstituent:
    """What an essential oil holds within, % of the oil."""

    oil: str
    oil_name: str
    substance: str
    name: str
    low: Decimal | None
    typical: Decimal | None
    high: Decimal | None
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class Colourant:
    """A row of EU Annex IV, by Colour Index number or by name where it has none."""

    entry: str
    substance: str
    name: str
    common_name: str
    status: str
    max_percent: Decimal | None
    restriction: str
    source: str
    basis: str


@cache
def catalogue() -> tuple[CatalogueMaterial, ...]:
    """All raw materials of data/catalogue.csv, in its order."""
    return read_rows(DATA / "catalogue.csv", CatalogueMaterial, {"is_perfume": "perfume"})


@cache
def kind_levels() -> Mapping[str, tuple[UseLevel, ...]]:
    """Use levels of kinds of product in which more is usual than in others, by key of the material."""
    found: dict[str, tuple[UseLevel, ...]] = {}
    for row in read_table("use_levels.csv"):
        low, high = number_or_none(row["low"]), number_or_none(row["high"])
        level = UseLevel(low, high, row["kind"], row["source"], row["basis"])
        found[row["material"]] = (*found.get(row["material"], ()), level)
    return found


@cache
def catalogue_by_key() -> Mapping[str, CatalogueMaterial]:
    """Raw materials by key."""
    return {material.key: material for material in catalogue()}


@cache
def substances() -> tuple[Substance, ...]:
    """All substances of data/substances.csv, by key."""
    columns = {"is_colourant": "colourant", "is_perfume": "perfume", "is_flavour": "flavour"}
    return read_rows(DATA / "substances.csv", Substance, columns)


@cache
def substance_by_key() -> Mapping[str, Substance]:
    """Substances by key; ``composition.substance_key(name)`` gives the key of an INCI name."""
    return {substance.key: substance for substance in substances()}


@cache
def oil_constituents() -> tuple[OilConstituent, ...]:
    """What the essential oils hold within, from data/oil_constituents.csv."""
    return read_rows(DATA / "oil_constituents.csv", OilConstituent)


@cache
def colourants() -> tuple[Colourant, ...]:
    """EU Annex IV, from data/eu_colourants.csv."""
    return read_rows(DATA / "eu_colourants.csv", Colourant)


@cache
def catalogue_compositions() -> Mapping[str, Composition]:
    """The composition of each raw material by its key; typical splits are memory.

    Essential oils carry their constituents within; ``within_stated`` is False, for the supplier hasn't said.
    """
    within: dict[str, list[Constituent]] = {}
    for row in oil_constituents():
        within.setdefault(row.oil, []).append(
            Constituent(row.substance, row.name, "within", row.low, row.typical, row.high)
        )
    declared: dict[str, list[Constituent]] = {}
    sources: dict[str, str] = {}
    for cells in read_table("catalogue_composition.csv"):
        sources[cells["material"]] = cells["source"]
        declared.setdefault(cells["material"], []).append(
            Constituent(
                cells["substance"],
                cells["name"],
                "declared",
                number_or_none(cells["low"]),
                number_or_none(cells["typical"]),
                number_or_none(cells["high"]),
                int(cells["position"]) if cells["ranked"] == "yes" else None,
            )
        )
    return {
        material: Composition(
            ingredient=material,
            name=catalogue_by_key()[material].name,
            constituents=(*parts, *(inner for part in parts for inner in within.get(part.substance, ()))),
            basis=MEMORY,
            source=sources[material],
        )
        for material, parts in declared.items()
    }
