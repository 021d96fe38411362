"""Two ways of doing one thing, timed in turn; what counts is how many times longer one takes."""

from __future__ import annotations

import gc
from collections.abc import Callable
from dataclasses import dataclass, field
from time import perf_counter
from typing import Any


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of the table. ``ceiling``: the ratio above which something is wrong."""

    what: str
    against: str
    ratio: float
    ceiling: float
    note: str = ""


@dataclass(slots=True)
class Figures:
    """The lines so far."""

    lines: list[Figure] = field(default_factory=list)

    def add(
        self,
        what: str,
        ours: Callable[[], Any],
        against: str,
        other: Callable[[], Any],
        ceiling: float,
        *,
        rounds: int = 7,
        note: str = "",
    ) -> None:
        """Time both, keep the ratio of their best rounds, and hold it against the ceiling."""
        self.hold(what, against, ratio(ours, other, rounds), ceiling, note)

    def hold(self, what: str, against: str, measured: float, ceiling: float, note: str = "") -> None:
        """Keep a ratio that was measured, and hold it against the ceiling."""
        figure = Figure(what, against, measured, ceiling, note)
        self.lines.append(figure)
        assert figure.ratio <= ceiling, (
            f"{what} takes {figure.ratio:.1f} times {against}; at most {ceiling:g}"
        )

    def table(self) -> list[str]:
        """The lines as text."""
        heads = ("measured", "against", "ratio", "at most", "")
        rows = [heads] + [
            (line.what, line.against, f"{line.ratio:.2f}", f"{line.ceiling:g}", line.note)
            for line in self.lines
        ]
        wide = [max(len(row[at]) for row in rows) for at in range(len(heads))]
        return [
            f"{row[0]:<{wide[0]}}  {row[1]:<{wide[1]}}  {row[2]:>{wide[2]}}  {row[3]:>{wide[3]}}  {row[4]}".rstrip()
            for row in rows
        ]


def ratio(ours: Callable[[], Any], other: Callable[[], Any], rounds: int) -> float:
    """The best of ``rounds`` of one over the best of the other, after one round that doesn't count."""
    ours()
    other()
    best_ours = best_other = float("inf")
    for _ in range(rounds):
        best_other = min(best_other, seconds(other))
        best_ours = min(best_ours, seconds(ours))
    return best_ours / best_other


def seconds(act: Callable[[], Any]) -> float:
    """How long something takes once."""
    gc.collect()
    start = perf_counter()
    act()
    return perf_counter() - start
