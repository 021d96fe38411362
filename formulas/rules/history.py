"""Going back and forth among the saved states of a draft: which state comes before, which after."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Saved:
    """One save. edit: its number, rising. restores: the edit whose state it brought back; None for a new state."""

    edit: int
    restores: int | None = None


@dataclass(frozen=True, slots=True)
class Place:
    """Where a draft stands among its states: the edit whose state it has, that before it and that after it."""

    at: int | None
    before: int | None
    after: int | None


def place_of(saves: Iterable[Saved]) -> Place:
    """Where the last of the saves stands.

    A new state drops those that were gone back from: nothing comes after it. Going back and forth drops none.
    Raises ValueError for a save that restores a state nobody can go to any more.
    """
    states: list[int] = []
    at = -1
    for save in saves:
        if save.restores is None:
            del states[at + 1 :]
            states.append(save.edit)
            at += 1
        else:
            at = states.index(save.restores)
    if at < 0:
        return Place(None, None, None)
    return Place(
        states[at],
        states[at - 1] if at else None,
        states[at + 1] if at + 1 < len(states) else None,
    )
