"""Does nothing go in hotter than it bears?"""

from __future__ import annotations

from collections.abc import Sequence

from formulas.rules.findings import Finding, Severity
from formulas.rules.number import ZERO, figure
from formulas.rules.percent import ResolvedLine
from formulas.rules.review.asked import Asked, HeatFact, StepFacts


def check_heat(asked: Asked) -> Sequence[Finding]:
    """Does nothing go in hotter than it bears? "Below N" includes N.

    An in-house ingredient without a limit of its own has the strictest of what it is made from.
    """
    found = []
    for line in asked.resolved.lines:
        fact, inner = _limit_of(asked, line.ingredient, ())
        if fact is not None:
            name = f"{line.name}, for the {inner} in it," if inner else line.name
            found += _heat_of(asked, line, name, fact)
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


def _heat_of(asked: Asked, line: ResolvedLine, name: str, fact: HeatFact) -> list[Finding]:
    step_c, limit = asked.formula.step_c.get(line.key), figure(fact.add_below_c)
    open_step = _open_step(asked, line.key)
    severity: Severity = "caution"
    if step_c is None:
        rule, message = "no_step", f"{name} goes in at {limit} °C or below; its step has no temperature."
        cure = "Give the step a temperature."
    elif step_c > fact.add_below_c:
        more = " or more" if open_step is not None and open_step.min_c == step_c else ""
        rule = "too_hot"
        message = f"{name} goes in at {figure(step_c)} °C{more}; {limit} °C is the most it bears."
        cure = f"Add it in a later step, at {limit} °C or below."
    elif open_step is not None:
        rule, severity = "no_ceiling", "unknown"
        message = (
            f"{name} goes in at {figure(open_step.min_c or step_c)} °C or more (step {open_step.number}), and"
        )
        message += f" how much more isn't said; {limit} °C is the most it bears."
        cure = f"Give the step a target, or a most of {limit} °C or below."
    else:
        return []
    return [Finding(f"heat.{rule}", severity, line.name, message, fact.source, cure, fact.basis, (line.key,))]


def _open_step(asked: Asked, line: str) -> StepFacts | None:
    """The step of the line's phase that says at least how hot it is and nothing of how hot at most."""
    letter = asked.formula.phase_of.get(line)
    steps = [step for step in asked.formula.steps if letter and step.phase == letter and step.is_open]
    return max(steps, key=lambda step: (step.min_c or ZERO, step.number), default=None)
