"""Every question of the review, in the order in which the desk lists them, and asking them all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from formulas.rules.dietary import dietary_sources
from formulas.rules.findings import Finding, in_order
from formulas.rules.percent import ResolvedFormula
from formulas.rules.review.asked import Asked, FormulaForReview, Question, prepare
from formulas.rules.review.completeness import check_compositions, check_sum
from formulas.rules.review.dietary import check_dietary
from formulas.rules.review.emulsion import check_emulsion, is_emulsion
from formulas.rules.review.firmness import check_firmness, has_firmness
from formulas.rules.review.functions import check_functions, has_form
from formulas.rules.review.heat import check_heat
from formulas.rules.review.levels import check_levels
from formulas.rules.review.order import check_order, has_order
from formulas.rules.review.perfume import check_perfume, has_oils, keeps_levels
from formulas.rules.review.preservative import check_preservative, wants_answer
from formulas.rules.review.restricted import check_restricted
from formulas.rules.review.weighing import check_weighing, is_weighed
from formulas.rules.totals import Totals


def is_product(asked: Asked) -> bool:
    """What is of finished products is asked of it; a premix or infusion has passed nothing of the kind."""
    return not asked.formula.is_part


QUESTIONS: tuple[Question, ...] = (
    Question("sum", "Makes exactly 100", check_sum),
    Question("compositions", "Compositions known", check_compositions),
    Question("functions", "Has what its form needs", check_functions, has_form),
    Question("use levels", "Within use levels", check_levels, is_product),
    Question("restricted", "Within the EU limits that are held here", check_restricted, is_product),
    Question("preservative", "Preserved as its base needs", check_preservative, wants_answer),
    Question("heat", "Nothing added too hot", check_heat),
    Question("order", "Phases meet warm, nothing drops out", check_order, has_order),
    Question("firmness", "No fats that soften each other", check_firmness, has_firmness),
    Question("emulsion", "Emulsifiers suit, as far as known", check_emulsion, is_emulsion),
    Question("perfume", "Essential oils within known limits", check_perfume, has_oils),
    Question("dietary", "Nothing known to be on a list of food allergens", check_dietary),
    Question("weighing", "Every line can be weighed", check_weighing, is_weighed),
)
"""One module each; the formulas world registers every one of them as a review check."""

HARMLESS: Mapping[str, frozenset[str]] = {
    "use levels": frozenset({"uselevels.elsewhere"}),
    "restricted": frozenset({"limits.warning", "limits.advice", "limits.later", "limits.not_covered"}),
    "preservative": frozenset({"preservative.not_needed", "preservative.dry", "preservative.acid"}),
    "order": frozenset({"order.grainy"}),
    "firmness": frozenset({"firmness.band", "firmness.drag"}),
    "emulsion": frozenset({"emulsion.shares", "emulsion.hlb"}),
    "perfume": frozenset({"perfume.allergens"}),
    "dietary": frozenset(f"dietary.{row.key}" for row in dietary_sources() if not row.is_listed),
}
"""Notes that leave the title of their question true, by its key: figures, hints, what holds elsewhere or later."""


def passes(question: Question, asked: Asked, answers: Sequence[Finding]) -> bool:
    """The question gives something to look at, and nothing that is said of it, here or there, goes against its title.

    A note that leaves the title in doubt is enough: what may be isn't passed.
    """
    harmless = HARMLESS.get(question.key, frozenset())
    if not question.applies(asked) or any(
        one.severity != "note" or one.rule not in harmless for one in answers
    ):
        return False
    return question.key != "perfume" or keeps_levels(asked)


@dataclass(frozen=True, slots=True)
class Review:
    """The answers: findings in order, questions that nothing goes against, and what they rest on."""

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
        if passes(question, asked, answers):
            passed.append(question.title)
    return Review(in_order(findings), tuple(passed), asked.resolved, asked.totals)
