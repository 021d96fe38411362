"""Use levels: how much of an ingredient goes into this kind of product, by those who know it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from formulas.rules.findings import Finding, Severity
from formulas.rules.interval import Interval, add
from formulas.rules.number import ZERO, figure
from formulas.rules.percent import ResolvedLine
from formulas.rules.vocabulary import CONFIRMED, MEMORY, SUPPLIER


@dataclass(frozen=True, slots=True)
class UseLevel:
    """A range for one ingredient, % of the product. kind: "any", "leave-on" or "rinse-off"."""

    low: Decimal | None
    high: Decimal | None
    kind: str = "any"
    source: str = ""
    basis: str = MEMORY


def check_use_levels(
    lines: Sequence[ResolvedLine], levels: Mapping[str, Sequence[UseLevel]], kind: str
) -> tuple[Finding, ...]:
    """Each ingredient's percent, summed over its lines, against its levels for the product kind.

    levels: by ingredient key. Over a level from a supplier's document or confirmed by the maker stops; over
    one that was read elsewhere or comes from memory is a caution. Below a level is a note. At a level passes.
    """
    by_ingredient: dict[str, list[ResolvedLine]] = {}
    for line in lines:
        if line.share is not None:
            by_ingredient.setdefault(line.ingredient, []).append(line)
    found = []
    for ingredient, own in by_ingredient.items():
        percent = add(line.share for line in own if line.share is not None)
        for level in levels.get(ingredient, ()):
            if level.kind in {"any", kind}:
                found += _compare(own, percent, level, kind)
    return tuple(found)


def _compare(lines: Sequence[ResolvedLine], percent: Interval, level: UseLevel, kind: str) -> list[Finding]:
    name = lines[0].name
    keys = tuple(line.key for line in lines)
    low, high = percent.low or ZERO, percent.high
    where = "" if level.kind == "any" else f" in {kind} products"
    if level.high is not None and high is not None and high > level.high:
        span = figure(high, up=True) if low == high else f"{figure(low, up=False)} to {figure(high, up=True)}"
        message = f"{name} stands at {span} %; {figure(level.high)} % is the most{where}{_says(level)}."
        firm = level.basis in {SUPPLIER, CONFIRMED} and low > level.high
        severity: Severity = "stop" if firm else "caution"
        cure = f"Lower it to {figure(level.high)} %."
        return [Finding("uselevels.high", severity, name, message, level.source, cure, level.basis, keys)]
    if level.low is not None and high is not None and high < level.low:
        message = f"{name} stands at {figure(high)} %; {figure(level.low)} % is the usual least{where}"
        message += f"{_says(level)}."
        cure = f"Raise it to {figure(level.low)} %, or leave it if it does its work."
        return [Finding("uselevels.low", "note", name, message, level.source, cure, level.basis, keys)]
    return []


def _says(level: UseLevel) -> str:
    if level.basis == SUPPLIER:
        return " by the supplier's document"
    if level.basis == CONFIRMED:
        return ", as you confirmed"
    return " by common practice (from memory)" if level.basis == MEMORY else " in the source named"
