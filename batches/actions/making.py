"""The verbs of making, in one place: planning, the bench, what came of it, release."""

from batches.actions.making_bench import lots_for, lots_for_lines, take_back, weigh
from batches.actions.making_plan import (
    START_CHECKS,
    add_rework_line,
    add_substitute_line,
    plan_batch,
    shortages_of,
    start_batch,
)
from batches.actions.making_readings import check, deviate, fill, judge_deviation, read
from batches.actions.making_release import amend_batch, give_up_batch, note_batch, release_batch
from batches.actions.making_review import open_points
from batches.actions.making_yield import correct_output, finish_batch, yield_output

__all__ = [
    "START_CHECKS",
    "add_rework_line",
    "add_substitute_line",
    "amend_batch",
    "check",
    "correct_output",
    "deviate",
    "fill",
    "finish_batch",
    "give_up_batch",
    "judge_deviation",
    "lots_for",
    "lots_for_lines",
    "note_batch",
    "open_points",
    "plan_batch",
    "read",
    "release_batch",
    "shortages_of",
    "start_batch",
    "take_back",
    "weigh",
    "yield_output",
]
