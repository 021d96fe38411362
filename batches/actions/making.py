"""The verbs of making, in one place: planning, the bench, release."""

from batches.actions.making_bench import (
    check,
    deviate,
    fill,
    judge_deviation,
    lots_for,
    read,
    take_back,
    weigh,
)
from batches.actions.making_plan import (
    START_CHECKS,
    add_rework_line,
    add_substitute_line,
    give_up_batch,
    plan_batch,
    shortages_of,
    start_batch,
)
from batches.actions.making_release import (
    amend_batch,
    correct_output,
    finish_batch,
    note_batch,
    open_points,
    release_batch,
    yield_output,
)

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
