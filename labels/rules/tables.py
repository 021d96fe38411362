"""The reference files of labels/data, one typed loader each, read once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path

from formulas.rules.composition import substance_key
from makers.rules.tables import read_cells, read_rows

DATA = Path(__file__).resolve().parent.parent / "data"

RULES_EDITION = "2026-11-25"
"""State of knowledge of the files and rules here; kept with each issued label."""


@dataclass(frozen=True, slots=True)
class AllergenRow:
    """One label name of the EU list of fragrance allergens.

    older: one of the 24 names in force before the list of 2023. plant: an oil or extract, whose CAS number
    also covers other parts of the plant. thresholds: % of the finished product; named when strictly above.
    members: keys of the substances that are summed under this name. cas: of all members.
    """

    entry: str
    name: str
    older: bool
    plant: bool
    threshold_leave_on: Decimal
    threshold_rinse_off: Decimal
    members: frozenset[str]
    cas: frozenset[str]
    note: str
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class UsName:
    """A name as it is printed in the United States. name: "" where there is none.

    permitted, and eye_area and lips for a colour: "yes", "no", "limited", "only for a non-colour function", or ""
    where that isn't known. kind: term, botanical or the class of colour.
    """

    eu_name: str
    name: str
    short_name: str
    kind: str
    section: str
    batch_certified: bool
    eye_area: str
    lips: str
    permitted: str
    note: str
    source: str
    basis: str

    @property
    def is_colour(self) -> bool:
        """A colour additive, or a colour that is none in the US."""
        return "colour" in self.kind

    @property
    def is_from_memory(self) -> bool:
        """The name, or its pairing with the EU name, was not read in a source."""
        return "memory" in self.basis or "pairing from memory" in self.note


@dataclass(frozen=True, slots=True)
class HeightBand:
    """Least height of the quantity's digits in mm, over ``over`` up to and with ``up_to`` g or ml."""

    over: Decimal
    up_to: Decimal | None
    height_mm: Decimal
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class TypeSizeBand:
    """Least height of the net contents by panel area, over ``over_sq_in`` up to and with ``up_to_sq_in``."""

    over_sq_in: Decimal
    up_to_sq_in: Decimal | None
    fraction: str
    height_mm: Decimal
    moulded_height_mm: Decimal
    source: str
    basis: str


@dataclass(frozen=True, slots=True)
class FixedWarning:
    """A sentence whose words the law gives. trigger: the product group that calls for it."""

    key: str
    trigger: str
    text: str
    where: str
    note: str
    source: str
    basis: str


def read_table(name: str) -> list[dict[str, str]]:
    """The rows of one file by column. Raises ValueError, naming the line, for a row of another length."""
    return read_cells(DATA / name)


@cache
def fragrance_allergens() -> tuple[AllergenRow, ...]:
    """The 81 label names of Annex III as of Reg (EU) 2023/1545, with their members."""
    members: dict[str, set[str]] = {}
    numbers: dict[str, set[str]] = {}
    for row in read_table("eu_fragrance_allergen_members.csv"):
        members.setdefault(row["label_name"], set()).add(substance_key(row["member_name"]))
        numbers.setdefault(row["label_name"], set()).update(filter(None, row["cas"].split(";")))
    return tuple(
        AllergenRow(
            entry=row["entry"],
            name=row["label_name"],
            older=row["older"] == "yes",
            plant=row["plant"] == "yes",
            threshold_leave_on=Decimal(row["threshold_leave_on"]),
            threshold_rinse_off=Decimal(row["threshold_rinse_off"]),
            members=frozenset({substance_key(row["label_name"]), *members[row["label_name"]]}),
            cas=frozenset(numbers[row["label_name"]]),
            note=row["note"],
            source=row["source"],
            basis=row["basis"],
        )
        for row in read_table("eu_fragrance_allergens.csv")
    )


@cache
def us_names() -> Mapping[str, UsName]:
    """US names by the EU label name."""
    columns = {
        "eu_name": "eu_label_name",
        "name": "us_label_name",
        "short_name": "us_short_name",
        "section": "cfr_section_21",
        "batch_certified": "batch_certification",
        "lips": "generally_incl_lips",
    }
    return {row.eu_name: row for row in read_rows(DATA / "us_names.csv", UsName, columns)}


@cache
def eu_not_colourants() -> Mapping[str, str]:
    """CI numbers that Annex IV does not hold, and the ordinary name that is printed instead."""
    return {row["ci_number"]: row["name"] for row in read_table("eu_not_colourants.csv")}


@cache
def digit_heights() -> tuple[HeightBand, ...]:
    """Least heights of the digits of a nominal quantity in the EU and GB."""
    return read_rows(DATA / "quantity_figure_height.csv", HeightBand, only={"what": "digits"})


@cache
def type_sizes() -> tuple[TypeSizeBand, ...]:
    """Least heights of the net contents in the US."""
    return read_rows(DATA / "us_type_size.csv", TypeSizeBand)


@cache
def us_warnings() -> tuple[FixedWarning, ...]:
    """Warning sentences of 21 CFR 740."""
    return read_rows(DATA / "us_warnings.csv", FixedWarning)


@cache
def market_countries(market: str) -> frozenset[str]:
    """ISO codes of the countries that make up a market; empty for a market that is not held."""
    return frozenset(row["country"] for row in read_table("market_countries.csv") if row["market"] == market)
