"""The limits of the EU annexes as rows, from data/eu_*.csv."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Literal

from formulas.rules.composition import substance_key
from formulas.rules.tables import read_table
from formulas.rules.vocabulary import LEAVE_ON, PRODUCT_KINDS, RINSE_OFF
from makers.rules.tables import number_or_none, words

Status = Literal["limited", "not allowed", "text only", "raw material", "advice", "listed"]
NOT_ALLOWED: Status = "not allowed"
COLOURS_NOT_ON = {"not in eye products": "eyes", "not on mucous membranes": "eyes;lips"}
"""Body areas, as the tables write them, that the words of Annex IV keep a colour from."""


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One substance under one limit.

    group: amounts of one group are added up, each times ``molar_ratio`` (g of ``expressed_as`` per g).
    mixture: a wider group with a figure of its own, "" for none. kind: leave-on, rinse-off or any.
    areas, product_types: empty means any. max_percent: % of the product, as ``expressed_as``.
    placing_from: first day on which the row holds for products placed on the market.
    """

    entry: str
    group: str
    mixture: str
    substance: str
    inci: str
    cas: str
    expressed_as: str
    molar_ratio: Decimal | None
    kind: str
    areas: frozenset[str]
    product_types: frozenset[str]
    not_areas: frozenset[str]
    status: Status
    max_percent: Decimal | None
    other_use_entry: str
    placing_from: date | None
    conditions: str
    scope: str
    warning: str
    releases_formaldehyde: str
    source: str
    basis: str

    @property
    def is_preservative(self) -> bool:
        """The row is of Annex V and holds for use as a preservative."""
        return self.entry.startswith("V/")

    @property
    def citation(self) -> str:
        """Annex and entry, then where it was read."""
        return f"Reg (EC) 1223/2009 Annex {self.entry}; {self.source}"


@dataclass(frozen=True, slots=True)
class LimitTable:
    """Rows by substance key, and the figures of mixtures by their group."""

    rows: tuple[LimitRow, ...]
    by_substance: Mapping[str, tuple[LimitRow, ...]]
    mixtures: Mapping[str, tuple[LimitRow, ...]]


def table_of(rows: Iterable[LimitRow]) -> LimitTable:
    """A table from rows; rows without a substance are the figures of mixtures."""
    rows = tuple(rows)
    by_substance: dict[str, list[LimitRow]] = {}
    mixtures: dict[str, list[LimitRow]] = {}
    for row in rows:
        if row.inci:
            by_substance.setdefault(row.substance, []).append(row)
        else:
            mixtures.setdefault(row.group, []).append(row)
    return LimitTable(
        rows,
        {key: tuple(found) for key, found in by_substance.items()},
        {key: tuple(found) for key, found in mixtures.items()},
    )


@cache
def eu_limits() -> LimitTable:
    """Annexes IV and V and the rows of Annexes II and III that are held here, loaded once."""
    return table_of((*preservative_rows(), *restricted_rows(), *colourant_rows()))


@cache
def preservative_rows() -> tuple[LimitRow, ...]:
    """Annex V: two rows for each substance, leave-on and rinse-off."""
    found = []
    for cells in read_table("eu_preservatives.csv"):
        for kind, column in ((LEAVE_ON, "max_leave_on"), (RINSE_OFF, "max_rinse_off")):
            barred = cells[column] == NOT_ALLOWED
            found.append(
                _row(
                    cells,
                    kind=kind,
                    areas=words(cells["only_areas"]),
                    product_types=frozenset(),
                    status=NOT_ALLOWED if barred else _status(cells["status"]),
                    max_percent=None if barred else number_or_none(cells[column]),
                )
            )
    return tuple(found)


@cache
def restricted_rows() -> tuple[LimitRow, ...]:
    """Annexes II and III, the choice that is held here."""
    return tuple(
        _row(
            cells,
            kind=cells["kind"],
            areas=words(cells["areas"]),
            product_types=words(cells["product_types"]),
            status=_status(cells["status"]),
            max_percent=number_or_none(cells["max_percent"]),
        )
        for cells in read_table("eu_restricted.csv")
    )


@cache
def colourant_rows() -> tuple[LimitRow, ...]:
    """Annex IV: what is listed without a condition is covered and says nothing."""
    found = []
    for cells in read_table("eu_colourants.csv"):
        rinse_off_only = cells["status"] == "rinse-off only"
        shared = {
            **cells,
            "group": f"{cells['entry']} {cells['name']}",
            "inci": cells["name"],
            "cas": "",
            "expressed_as": "substance",
            "molar_ratio": "1",
            "conditions": "" if rinse_off_only or cells["max_percent"] else cells["restriction"],
            "not_areas": COLOURS_NOT_ON.get(cells["restriction"], ""),
            "warning": "",
        }
        for kind in PRODUCT_KINDS:
            barred = rinse_off_only and kind == LEAVE_ON
            status: Status = "listed" if rinse_off_only else _status(cells["status"])
            found.append(
                _row(
                    shared,
                    kind=kind,
                    areas=frozenset(),
                    product_types=frozenset(),
                    status=NOT_ALLOWED if barred else status,
                    max_percent=number_or_none(cells["max_percent"]),
                )
            )
    return tuple(found)


def _row(
    cells: Mapping[str, str],
    *,
    kind: str,
    areas: frozenset[str],
    product_types: frozenset[str],
    status: Status,
    max_percent: Decimal | None,
) -> LimitRow:
    placing_from = cells.get("applies_from", "")
    return LimitRow(
        entry=cells["entry"],
        group=cells["group"],
        mixture=cells.get("mixture", ""),
        substance=substance_key(cells["inci"]) if cells["inci"] else "",
        inci=cells["inci"],
        cas=cells["cas"],
        expressed_as=cells["expressed_as"],
        molar_ratio=number_or_none(cells["molar_ratio"]),
        kind=kind,
        areas=areas,
        product_types=product_types,
        not_areas=words(cells.get("not_areas", "")),
        status=status,
        max_percent=max_percent,
        other_use_entry=cells.get("other_use_entry", ""),
        placing_from=date.fromisoformat(placing_from) if placing_from else None,
        conditions=cells["conditions"],
        scope=cells.get("scope", ""),
        warning=cells["warning"],
        releases_formaldehyde=cells.get("releases_formaldehyde", ""),
        source=cells["source"],
        basis=cells["basis"],
    )


def _status(text: str) -> Status:
    known: dict[str, Status] = {
        "limited": "limited",
        "not allowed": "not allowed",
        "text only": "text only",
        "raw material": "raw material",
        "advice": "advice",
        "listed": "listed",
    }
    return known[text]
