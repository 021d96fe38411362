"""Whether a formula holds a substance, how much of it at least and at most, and by which way it comes in."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from formulas.rules.composition import Composition, shares
from formulas.rules.interval import Interval, add
from formulas.rules.number import HUNDRED, ZERO, difference
from formulas.rules.percent import ResolvedFormula
from formulas.rules.straining import what_is_left
from formulas.rules.totals import Contribution, NestedFormula, UnknownShare, substance_totals

Answer = Literal["yes", "may", "unknown", "no"]
"""yes: some of it is there. may: its shares begin at nothing. unknown: nothing known brings it, but not all is
known. no: everything is known, and it is not there."""

NOT_STATED = "its supplier doesn't state the perfume allergens"
NO_COMPOSITION = "its composition is not known"


@dataclass(frozen=True, slots=True)
class Doubt:
    """A part of which it can't be told whether it holds the substance. percent: of the product. path: names."""

    path: tuple[str, ...]
    percent: Interval
    reason: str


@dataclass(frozen=True, slots=True)
class Holding:
    """What one formula holds of a substance.

    amount: % w/w of the finished product from all known ways together, None without one. ways: each way it comes
    in, the most first. doubts: parts that may bring more of it.
    """

    answer: Answer
    amount: Interval | None
    ways: tuple[Contribution, ...]
    doubts: tuple[Doubt, ...]


def holding(
    formula: ResolvedFormula,
    compositions: Mapping[str, Composition],
    nested: Mapping[str, NestedFormula],
    substance: str,
    *,
    unstated: Collection[str] = (),
) -> Holding:
    """Look for a substance through every premix. Raises FormulaCycle when the formula contains itself.

    unstated: keys of ingredients in which the substance may stand within although their composition does not
    list it (a perfume whose supplier says nothing of the allergens, where an allergen is asked for).
    """
    totals = substance_totals(formula.lines, compositions, nested)
    ways = totals.contributions_of(substance)
    doubts = [as_doubt(part) for part in totals.unknown]
    doubts += _unstated(formula, compositions, nested, substance, unstated)
    if formula.total < HUNDRED:
        missing = Interval.point(difference(HUNDRED, formula.total))
        doubts.append(Doubt((), missing, "the formula doesn't make 100 yet"))
    amount = add(part.amount for part in ways) if ways else None
    return Holding(_answer(ways, doubts), amount, tuple(sorted(ways, key=_by_amount)), tuple(doubts))


def as_doubt(part: UnknownShare) -> Doubt:
    """A part of which nothing is known, as a doubt about the substance."""
    names = tuple(step.said for step in part.path) or (part.line_name,)
    return Doubt(names, part.percent, part.reason)


def _answer(ways: Sequence[Contribution], doubts: Sequence[Doubt]) -> Answer:
    if any(part.amount.low is not None and part.amount.low > ZERO for part in ways):
        return "yes"
    if any(part.amount.high != ZERO for part in ways):
        return "may"
    return "unknown" if doubts else "no"


def _unstated(
    formula: ResolvedFormula,
    compositions: Mapping[str, Composition],
    nested: Mapping[str, NestedFormula],
    substance: str,
    unstated: Collection[str],
) -> list[Doubt]:
    """The ways by which ingredients come in whose statement is missing and which don't list the substance.

    Each such ingredient is walked as if nothing of it were known, so that its ways and percents come out.
    """
    missing = {
        key
        for key in unstated
        if key in compositions and all(part.substance != substance for part in compositions[key].constituents)
    }
    if not missing:
        return []
    rest = {key: composition for key, composition in compositions.items() if key not in missing}
    found = substance_totals(formula.lines, rest, nested).unknown
    return [
        Doubt(tuple(step.name for step in part.path), part.percent, NOT_STATED)
        for part in found
        if part.path and part.path[-1].ingredient in missing and part.reason == NO_COMPOSITION
    ]


def _by_amount(part: Contribution) -> tuple[Decimal, str]:
    expected = part.amount.expected
    most = expected if expected is not None else part.amount.high or part.amount.low or ZERO
    return -most, part.line_name


def reaching(
    substance: str,
    compositions: Mapping[str, Composition],
    nested: Mapping[str, NestedFormula],
    ingredients: Collection[str],
    *,
    unstated: Collection[str] = (),
) -> frozenset[str]:
    """The ingredients that bring the substance or of which not everything is known, through nesting.

    Lines of all other ingredients say nothing of the substance, so that a formula without such a line is a plain
    no. An ingredient made from itself counts once.
    """
    known: dict[str, bool] = {}

    def reaches(key: str) -> bool:
        if key not in known:
            known[key] = False  # until told: what contains itself adds nothing to itself
            inner = nested.get(key)
            if inner is not None:
                lines = inner.formula.lines
                whole = inner.formula.is_complete and all(line.share is not None for line in lines)
                whole = whole and what_is_left(lines) is not None
                left = any(line.leaves is not None and line.leaves[0] == substance for line in lines)
                known[key] = not whole or left or any(reaches(line.ingredient) for line in lines)
            else:
                known[key] = _tells(key, compositions.get(key), substance, unstated)
        return known[key]

    return frozenset(key for key in ingredients if reaches(key))


def _tells(key: str, composition: Composition | None, substance: str, unstated: Collection[str]) -> bool:
    """Whether a composition brings the substance or leaves something open."""
    if composition is None or key in unstated:
        return True
    if any(part.substance == substance for part in composition.constituents):
        return True
    worked = shares(composition)
    return not worked.is_consistent or worked.remainder is not None
