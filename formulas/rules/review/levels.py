"""Does each ingredient stay within its use levels?"""

from __future__ import annotations

from collections.abc import Sequence

from formulas.rules.findings import Finding
from formulas.rules.review.asked import Asked
from formulas.rules.uselevels import check_use_levels


def check_levels(asked: Asked) -> Sequence[Finding]:
    """Does each ingredient stay within its use levels?"""
    formula = asked.formula
    if formula.is_part:
        return judged_in_the_product(asked)
    return check_use_levels(
        asked.resolved.lines,
        formula.use_levels,
        formula.use.kind,
        formula.nested,
        formula.perfume_category,
        formula.form,
    )


def judged_in_the_product(asked: Asked) -> Sequence[Finding]:
    """One note for a premix or infusion: what of it has a use level, which the product is held against."""
    formula = asked.formula
    lines = [line for line in asked.resolved.lines if formula.use_levels.get(line.ingredient)]
    if not lines:
        return ()
    names = list(dict.fromkeys(line.name for line in lines))
    named = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    message = (
        f"Use levels are of the finished product: {named} {'is' if len(names) == 1 else 'are'} judged there, "
    )
    message += f"with what this {formula.form} brings."
    keys = tuple(line.key for line in lines)
    return (Finding("uselevels.part", "note", formula.form, message, lines=keys),)
