"""Does nothing go in hotter than it bears?"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from formulas.rules.findings import Finding
from formulas.rules.number import figure
from formulas.rules.percent import ResolvedLine
from formulas.rules.review.asked import Asked, HeatFact


def check_heat(asked: Asked) -> Sequence[Finding]:
    """Does nothing go in hotter than it bears? "Below N" includes N.

    An in-house ingredient without a limit of its own has the strictest of what it is made from.
    """
    found = []
    for line in asked.resolved.lines:
        fact, inner = _limit_of(asked, line.ingredient, ())
        if fact is not None:
            name = f"{line.name}, for the {inner} in it," if inner else line.name
            found += _heat_of(line, name, fact, asked.formula.step_c.get(line.key))
    return found


def _limit_of(asked: Asked, ingredient: str, path: tuple[str, ...]) -> tuple[HeatFact | None, str]:
    """The heat limit, and the name of what it comes from where that is within a premix."""
    own = asked.formula.heat.get(ingredient)
    nested = asked.formula.nested.get(ingredient)
    if own is not None or nested is None or ingredient in path:
        return own, ""
    limits = []
    for line in nested.formula.lines:
        if line.strained:
            continue  # what was taken out is not heated with the rest
        fact, inner = _limit_of(asked, line.ingredient, (*path, ingredient))
        if fact is not None:
            limits.append((fact, inner or line.name))
    return min(limits, key=lambda found: (found[0].add_below_c, found[1]), default=(None, ""))


def _heat_of(line: ResolvedLine, name: str, fact: HeatFact, step_c: Decimal | None) -> list[Finding]:
    limit = figure(fact.add_below_c)
    if step_c is None:
        message = f"{name} goes in at {limit} °C or below; its step has no temperature."
        cure = "Give the step a temperature."
        return [
            Finding("heat.no_step", "caution", line.name, message, fact.source, cure, fact.basis, (line.key,))
        ]
    if step_c <= fact.add_below_c:
        return []
    message = f"{name} goes in at {figure(step_c)} °C; {limit} °C is the most it bears."
    cure = f"Add it in a later step, at {limit} °C or below."
    return [
        Finding("heat.too_hot", "caution", line.name, message, fact.source, cure, fact.basis, (line.key,))
    ]
