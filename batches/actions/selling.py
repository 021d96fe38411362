"""The verbs of selling, in one place: places and recipients, packs, what leaves and what comes back."""

from batches.actions.selling_dispatch import (
    dispatch,
    judge_return,
    may_leave,
    move_units,
    still_out,
    take_return,
    waiting,
)
from batches.actions.selling_packs import (
    bulk_left,
    count_units,
    destroy_units,
    enough,
    keep_units,
    move,
    next_pack_code,
    pack_batch,
    there,
)
from batches.actions.selling_places import (
    BUILT_IN,
    add_place,
    add_recipient,
    built_in,
    set_up_places,
)

__all__ = [
    "BUILT_IN",
    "add_place",
    "add_recipient",
    "built_in",
    "bulk_left",
    "count_units",
    "destroy_units",
    "dispatch",
    "enough",
    "judge_return",
    "keep_units",
    "may_leave",
    "move",
    "move_units",
    "next_pack_code",
    "pack_batch",
    "set_up_places",
    "still_out",
    "take_return",
    "there",
    "waiting",
]
