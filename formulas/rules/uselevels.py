"""Use levels: how much of an ingredient goes into this kind of product, by those who know it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from formulas.rules.findings import Finding, Severity
from formulas.rules.interval import Interval, add
from formulas.rules.number import ZERO, figure
from formulas.rules.percent import ResolvedLine
from formulas.rules.straining import what_is_left
from formulas.rules.totals import NestedFormula
from formulas.rules.vocabulary import CONFIRMED, MEMORY, SUPPLIER

BATH = "bath"
"""A form of product, and the kind of a level that holds for it: it goes into a tub of water before the skin."""


@dataclass(frozen=True, slots=True)
class UseLevel:
    """A range for one ingredient, % of the product. kind: "any", "leave-on", "rinse-off" or "bath".

    category: of a perfume certificate, "5A" say; "" for a range that holds in every category.
    """

    low: Decimal | None
    high: Decimal | None
    kind: str = "any"
    source: str = ""
    basis: str = MEMORY
    category: str = ""


@dataclass(frozen=True, slots=True)
class _Use:
    """What one line of the formula brings of one ingredient, % of the product; through: the premixes passed."""

    line: str
    name: str
    percent: Interval
    through: tuple[str, ...] = ()


def check_use_levels(
    lines: Sequence[ResolvedLine],
    levels: Mapping[str, Sequence[UseLevel]],
    kind: str,
    nested: Mapping[str, NestedFormula] | None = None,
    category: str = "",
    form: str = "",
) -> tuple[Finding, ...]:
    """Each ingredient's percent, summed over its lines and through premixes, against its levels for the kind.

    levels, nested: by ingredient key; an ingredient in ``nested`` counts itself and what it is made from.
    An inner formula that makes less than 100 is taken as it stands. Over a level from a supplier's document
    or confirmed by the maker stops; over one that was read elsewhere or comes from memory is a caution.
    Below a level is a note. At a level passes. A level of the product's own ``category`` of perfume
    certificates wins over the general ones, and so does one for bath goods where the ``form`` is bath; a level
    of another category or form says nothing.
    """
    by_ingredient: dict[str, list[_Use]] = {}
    for part in what_is_left(lines) or ():
        if part.share is not None:
            _gather(by_ingredient, part.line, part.line.key, part.share, nested or {}, ())
    found = []
    for ingredient, own in by_ingredient.items():
        percent = add(use.percent for use in own)
        for level in levels_that_count(levels.get(ingredient, ()), kind, category, form):
            found += _compare(own, percent, level, kind)
    return tuple(found)


def levels_that_count(
    levels: Sequence[UseLevel], kind: str, category: str = "", form: str = ""
) -> tuple[UseLevel, ...]:
    """Those for the kind of product: of its category of perfume certificates if there are any, then of bath goods
    where it is one, else general."""
    bath = [level for level in levels if level.kind == BATH and not level.category]
    fitting = [level for level in levels if level.kind in {"any", kind}]
    if form == BATH and bath:
        fitting = [*bath, *(level for level in fitting if level.category)]
    own = [level for level in fitting if category and level.category.upper() == category.upper()]
    return tuple(own or (level for level in fitting if not level.category))


def _gather(
    found: dict[str, list[_Use]],
    line: ResolvedLine,
    top: str,
    percent: Interval,
    nested: Mapping[str, NestedFormula],
    path: tuple[tuple[str, str], ...],
) -> None:
    """Follow a line down. The path holds key and name; a formula that contains itself is told by the totals."""
    if any(key == line.ingredient for key, _ in path):
        return
    through = tuple(name for _, name in path)
    found.setdefault(line.ingredient, []).append(_Use(top, line.name, percent, through))
    inner = nested.get(line.ingredient)
    for part in (what_is_left(inner.formula.lines) or ()) if inner is not None else ():
        if part.share is not None:
            deeper = (*path, (line.ingredient, line.name))
            _gather(found, part.line, top, part.share.of(percent), nested, deeper)


def _compare(uses: Sequence[_Use], percent: Interval, level: UseLevel, kind: str) -> list[Finding]:
    name = uses[0].name
    keys = tuple(dict.fromkeys(use.line for use in uses))
    by_way = tuple(dict.fromkeys(use.through[-1] for use in uses if use.through))
    way = f", with what {' and '.join(by_way)} brings" if by_way else ""
    low, high = percent.low or ZERO, percent.high
    where = {"any": "", BATH: " in bath goods"}.get(level.kind, f" in {kind} products")
    if level.category:
        where += f" in product category {level.category}"
    if level.high is not None and high is not None and high > level.high:
        span = figure(high, up=True) if low == high else f"{figure(low, up=False)} to {figure(high, up=True)}"
        message = f"{name} stands at {span} %{way}; {figure(level.high)} % is the most{where}{_says(level)}."
        firm = level.basis in {SUPPLIER, CONFIRMED} and low > level.high
        severity: Severity = "stop" if firm else "caution"
        cure = f"Lower it to {figure(level.high)} %."
        rule = "uselevels.high" if low > level.high else "uselevels.straddles"
        return [Finding(rule, severity, name, message, level.source, cure, level.basis, keys)]
    if level.low is not None and high is not None and high < level.low:
        message = f"{name} stands at {figure(high)} %{way}; {figure(level.low)} % is the usual least{where}"
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
