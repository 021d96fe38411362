"""Every question of the review, in the order in which the desk lists them, and asking them all."""

from __future__ import annotations

from dataclasses import dataclass

from formulas.rules.findings import Finding, in_order
from formulas.rules.percent import ResolvedFormula
from formulas.rules.review.asked import FormulaForReview, Question, prepare
from formulas.rules.review.completeness import check_compositions, check_sum
from formulas.rules.review.heat import check_heat
from formulas.rules.review.levels import check_levels
from formulas.rules.review.restricted import check_restricted
from formulas.rules.totals import Totals

QUESTIONS: tuple[Question, ...] = (
    Question("sum", "Makes exactly 100", check_sum),
    Question("compositions", "Compositions known", check_compositions),
    Question("use levels", "Within use levels", check_levels),
    Question("restricted", "Within the EU limits", check_restricted),
    Question("heat", "Nothing added too hot", check_heat),
)
"""One module each; the formulas world registers every one of them as a review check."""


@dataclass(frozen=True, slots=True)
class Review:
    """The answers: findings in order, questions without a finding above a note, and what they rest on."""

    findings: tuple[Finding, ...]
    passed: tuple[str, ...]
    resolved: ResolvedFormula
    totals: Totals

    @property
    def stops(self) -> tuple[Finding, ...]:
        """What has to be cured or answered with a reason before approval."""
        return tuple(finding for finding in self.findings if finding.severity == "stop")

    @property
    def has_unknowns(self) -> bool:
        """Something isn't known, so the review can't be complete."""
        return any(finding.severity == "unknown" for finding in self.findings)


def review(formula: FormulaForReview) -> Review:
    """Ask every question of the formula. Raises FormulaCycle when a formula contains itself."""
    asked = prepare(formula)
    findings: list[Finding] = []
    passed = []
    for question in QUESTIONS:
        answers = question.check(asked)
        findings += answers
        if all(answer.severity == "note" for answer in answers):
            passed.append(question.title)
    return Review(in_order(findings), tuple(passed), asked.resolved, asked.totals)
