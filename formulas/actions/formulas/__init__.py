"""Starting, writing, going back in, reviewing, approving and withdrawing formulas."""

from formulas.actions.formulas.approval import answer_key, approve_version, freeze, withdraw_version
from formulas.actions.formulas.drafts import MOST_LINES, open_draft, save_version, stored_steps
from formulas.actions.formulas.reviewing import (
    Reviewed,
    Seen,
    differing_suppliers,
    review_lines,
    review_version,
)
from formulas.actions.formulas.starting import change_formula, copy_content, next_version, start_formula

__all__ = [
    "MOST_LINES",
    "Reviewed",
    "Seen",
    "answer_key",
    "approve_version",
    "change_formula",
    "copy_content",
    "differing_suppliers",
    "freeze",
    "next_version",
    "open_draft",
    "review_lines",
    "review_version",
    "save_version",
    "start_formula",
    "stored_steps",
    "withdraw_version",
]
