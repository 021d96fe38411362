"""Does nothing go in hotter than it bears?"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from formulas.rules.findings import Finding
from formulas.rules.number import figure
from formulas.rules.percent import ResolvedLine
from formulas.rules.review.asked import Asked, HeatFact


def check_heat(asked: Asked) -> Sequence[Finding]:
    """Does nothing go in hotter than it bears? "Below N" includes N."""
    found = []
    for line in asked.resolved.lines:
        fact = asked.formula.heat.get(line.ingredient)
        if fact is not None:
            found += _heat_of(line, fact, asked.formula.step_c.get(line.key))
    return found


def _heat_of(line: ResolvedLine, fact: HeatFact, step_c: Decimal | None) -> list[Finding]:
    limit = figure(fact.add_below_c)
    if step_c is None:
        message = f"{line.name} goes in at {limit} °C or below; its step has no temperature."
        cure = "Give the step a temperature."
        return [
            Finding("heat.no_step", "caution", line.name, message, fact.source, cure, fact.basis, (line.key,))
        ]
    if step_c <= fact.add_below_c:
        return []
    message = f"{line.name} goes in at {figure(step_c)} °C; {limit} °C is the most it bears."
    cure = f"Add it in a later step, at {limit} °C or below."
    return [
        Finding("heat.too_hot", "caution", line.name, message, fact.source, cure, fact.basis, (line.key,))
    ]
