"""The review of a formula: one module per question, all asked in one place."""

from formulas.rules.review.asked import (
    PARTS,
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
    "PARTS",
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
