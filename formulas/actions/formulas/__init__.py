"""Starting, writing, going back in, reviewing, approving and withdrawing formulas."""

from formulas.actions.formulas.approval import answer_key, approve_version, freeze, withdraw_version
from formulas.actions.formulas.drafts import (
    LINE_KEYS,
    MOST_LINES,
    Stale,
    exchange_ingredient,
    go_back,
    go_forth,
    holding_formula,
    open_draft,
    refuse_older,
    save_version,
    stored_phases,
    stored_steps,
    would_hold_itself,
)
from formulas.actions.formulas.history import as_decimal, history_of, read_content
from formulas.actions.formulas.reviewing import (
    Reviewed,
    Seen,
    asked_of,
    differing_suppliers,
    review_lines,
    review_version,
)
from formulas.actions.formulas.starting import change_formula, copy_content, next_version, start_formula
from formulas.actions.formulas.supposing import WouldChange, lists_of, said_of, what_would_change

__all__ = [
    "LINE_KEYS",
    "MOST_LINES",
    "Reviewed",
    "Seen",
    "Stale",
    "WouldChange",
    "answer_key",
    "approve_version",
    "as_decimal",
    "asked_of",
    "change_formula",
    "copy_content",
    "differing_suppliers",
    "exchange_ingredient",
    "freeze",
    "go_back",
    "go_forth",
    "history_of",
    "holding_formula",
    "lists_of",
    "next_version",
    "open_draft",
    "read_content",
    "refuse_older",
    "review_lines",
    "review_version",
    "said_of",
    "save_version",
    "start_formula",
    "stored_phases",
    "stored_steps",
    "what_would_change",
    "withdraw_version",
    "would_hold_itself",
]
