"""A bar with words on stderr: redrawn on a terminal, a line for each tenth elsewhere."""

from __future__ import annotations

import sys
from typing import TextIO

WIDTH = 24


class Progress:
    """Says how far something is."""

    def __init__(self, title: str, total: int, stream: TextIO | None = None) -> None:
        self.title, self.total, self.stream, self.said = title, total, stream or sys.stderr, -1

    def at(self, done: int, words: str = "") -> None:
        """Say that ``done`` of the total is there."""
        full = done * WIDTH // self.total
        text = f"{self.title} {'█' * full}{'░' * (WIDTH - full)} {done:,} of {self.total:,} {words}"
        if self.stream.isatty():
            self.stream.write(f"\r{text:<100}" + ("\n" if done == self.total else ""))
        elif (tenth := done * 10 // self.total) != self.said:
            self.said = tenth
            self.stream.write(text.rstrip() + "\n")
        self.stream.flush()
