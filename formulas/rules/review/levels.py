"""Does each ingredient stay within its use levels?"""

from __future__ import annotations

from collections.abc import Sequence

from formulas.rules.findings import Finding
from formulas.rules.review.asked import Asked
from formulas.rules.uselevels import check_use_levels


def check_levels(asked: Asked) -> Sequence[Finding]:
    """Does each ingredient stay within its use levels?"""
    formula = asked.formula
    return check_use_levels(asked.resolved.lines, formula.use_levels, formula.use.kind, formula.nested)
