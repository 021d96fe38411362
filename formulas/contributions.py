"""What the formulas world contributes to the registries of the house."""

from __future__ import annotations


def register() -> None:
    """Add every contribution of this world; called once on start."""
