"""Fragrance allergens to be named in the EU and Great Britain.

Reg (EC) 1223/2009 Annex III as amended by Reg (EU) 2023/1545: named when the finished product holds
strictly more than 0.001 % (leave-on) or 0.01 % (rinse-off), members of a group summed under one name.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Literal

from formulas.rules.composition import substance_key
from formulas.rules.interval import Interval, add
from formulas.rules.vocabulary import LEAVE_ON
from labels.rules.amounts import Contribution, DeclaredAmount
from labels.rules.tables import AllergenRow, fragrance_allergens

OLD_STATE_PLACED_TO = date(2026, 7, 31)
"""Last day of first supply under the older list (Reg (EU) 2023/1545, transition)."""

OLD_STATE_SUPPLIED_TO = date(2028, 7, 31)
"""Last day on which packs placed under the older list may still change hands."""

Verdict = Literal["named", "not named", "unknown"]


@dataclass(frozen=True, slots=True)
class AllergenFigure:
    """One label name, how much the product holds of it and what follows.

    percent: the members summed. threshold: % of the product; the upper end is compared, strictly.
    by_number: names of members found by CAS number alone. older: among the 24 older names.
    """

    name: str
    entry: str
    percent: Interval
    threshold: Decimal
    verdict: Verdict
    contributions: tuple[Contribution, ...]
    members: tuple[str, ...]
    by_number: tuple[str, ...]
    older: bool
    source: str


@dataclass(frozen=True, slots=True)
class PlantHint:
    """A plant material whose CAS number, not whose name, is on the list: the number covers other parts."""

    substance: str
    name: str
    candidates: tuple[str, ...]


def newer_list_applies(first_supply: date | None) -> bool:
    """Packs first supplied after 31 July 2026, or at a time not said, name from all 81; before, from 24."""
    return first_supply is None or first_supply > OLD_STATE_PLACED_TO


def threshold_of(row: AllergenRow, product_kind: str) -> Decimal:
    """% of the finished product above which the name is printed."""
    return row.threshold_leave_on if product_kind == LEAVE_ON else row.threshold_rinse_off


def allergen_figures(
    amounts: Sequence[DeclaredAmount], product_kind: str, *, newer: bool
) -> tuple[AllergenFigure, ...]:
    """Every listed name of which anything is in the product, most first.

    Found by INCI name; a single chemical also by CAS number, and an oil used as perfume where its number
    stands under one name alone. newer False: the 24 older names only, with all their members, which is
    never narrower than the older entries were.
    """
    members: dict[str, list[tuple[DeclaredAmount, str]]] = {}
    for amount in amounts:
        row, how = _match(amount)
        if row is not None and (newer or row.older):
            members.setdefault(row.name, []).append((amount, how))
    figures = [
        _figure(row, members[row.name], product_kind) for row in fragrance_allergens() if row.name in members
    ]
    return tuple(sorted(figures, key=_by_amount))


def plant_hints(amounts: Iterable[DeclaredAmount], *, newer: bool) -> tuple[PlantHint, ...]:
    """Plant materials that share a CAS number with the list and are not counted by it."""
    hints = {}
    for amount in amounts:
        if _match(amount)[0] is None:
            rows = [row for row in _holders(amount) if row.plant and (newer or row.older)]
            if rows:
                names = tuple(row.name for row in rows)
                hints[amount.substance] = PlantHint(amount.substance, amount.eu_name, names)
    return tuple(hints[key] for key in sorted(hints))


@cache
def _by_member() -> dict[str, AllergenRow]:
    return {member: row for row in fragrance_allergens() for member in row.members}


@cache
def _by_number() -> dict[str, tuple[AllergenRow, ...]]:
    found: dict[str, tuple[AllergenRow, ...]] = {}
    for row in fragrance_allergens():
        for number in row.cas:
            found[number] = (*found.get(number, ()), row)
    return found


def _match(amount: DeclaredAmount) -> tuple[AllergenRow | None, str]:
    """The row that counts this amount and how it was found: "name", "number", or None with ""."""
    by_member = _by_member()
    row = by_member.get(amount.substance) or by_member.get(substance_key(amount.eu_name))
    if row is not None:
        return row, "name"
    holders = _holders(amount)
    if len(holders) == 1 and (not holders[0].plant or amount.is_perfume):
        return holders[0], "number"
    return None, ""


def _holders(amount: DeclaredAmount) -> tuple[AllergenRow, ...]:
    """Every row that holds one of the CAS numbers, in the order of the list."""
    by_number = _by_number()
    found = {row.name: row for number in _numbers(amount) for row in by_number.get(number, ())}
    return tuple(found[name] for name in sorted(found))


def _numbers(amount: DeclaredAmount) -> frozenset[str]:
    return frozenset(part.strip() for part in amount.cas.replace(",", ";").split(";") if part.strip())


def _figure(
    row: AllergenRow, members: Sequence[tuple[DeclaredAmount, str]], product_kind: str
) -> AllergenFigure:
    percent = add(amount.percent for amount, _ in members)
    threshold = threshold_of(row, product_kind)
    return AllergenFigure(
        name=row.name,
        entry=row.entry,
        percent=percent,
        threshold=threshold,
        verdict=_verdict(percent, threshold),
        contributions=tuple(
            sorted(
                (part for amount, _ in members for part in amount.contributions),
                key=lambda part: (part.ingredient, part.label, str(part.percent)),
            )
        ),
        members=tuple(sorted({amount.eu_name for amount, _ in members})),
        by_number=tuple(sorted({amount.eu_name for amount, how in members if how == "number"})),
        older=row.older,
        source=f"Annex III {row.entry}; {row.source}",
    )


def _verdict(percent: Interval, threshold: Decimal) -> Verdict:
    if any(end is not None and end > threshold for end in (percent.high, percent.low, percent.typical)):
        return "named"
    return "unknown" if percent.high is None else "not named"


def _by_amount(figure: AllergenFigure) -> tuple[Decimal, str]:
    ends = [
        end for end in (figure.percent.high, figure.percent.typical, figure.percent.low) if end is not None
    ]
    return -max(ends, default=Decimal(0)), figure.name
