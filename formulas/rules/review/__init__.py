"""The review of a formula: one module per question, all asked in one place."""

from formulas.rules.review.asked import (
    Asked,
    FormulaForReview,
    HeatFact,
    IngredientFacts,
    Question,
    ScaleFacts,
    StepFacts,
    prepare,
)
from formulas.rules.review.questions import QUESTIONS, Review, review

__all__ = [
    "QUESTIONS",
    "Asked",
    "FormulaForReview",
    "HeatFact",
    "IngredientFacts",
    "Question",
    "Review",
    "ScaleFacts",
    "StepFacts",
    "prepare",
    "review",
]
