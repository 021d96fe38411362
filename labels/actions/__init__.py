"""Verbs of the printed world."""

from labels.actions.labels import (
    approve_label,
    change_label,
    confirm_all,
    confirm_fact_on,
    draft_label,
    judge_caution,
    name_substance,
    withdraw_label,
)
from labels.actions.printing import add_sheet_layout, apply_label, change_sheet_layout, print_run

__all__ = [
    "add_sheet_layout",
    "apply_label",
    "approve_label",
    "change_label",
    "change_sheet_layout",
    "confirm_all",
    "confirm_fact_on",
    "draft_label",
    "judge_caution",
    "name_substance",
    "print_run",
    "withdraw_label",
]
