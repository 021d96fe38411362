"""Letters that count: of phases, and of the columns of a sheet. After Z comes AA."""

from __future__ import annotations

from itertools import takewhile


def letter(index: int) -> str:
    """The letters of a place, from 0: A, B … Z, AA, AB."""
    found = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        found = chr(ord("A") + rest) + found
    return found


def phase_order(phase: str) -> tuple[int, str]:
    """What phases are sorted by: A, A2, B … Z, AA. Figures after the letters keep their phase together."""
    return len("".join(takewhile(str.isalpha, phase))), phase
