"""Does each restricted substance stay within the EU annexes?"""

from __future__ import annotations

from collections.abc import Sequence

from formulas.rules.findings import Finding
from formulas.rules.limits import check_limits
from formulas.rules.review.asked import Asked


def check_restricted(asked: Asked) -> Sequence[Finding]:
    """Does each restricted substance stay within the annexes?"""
    return check_limits(asked.totals, asked.formula.use, on=asked.formula.on)
