"""What the formulas world contributes to the registries of the house."""

from __future__ import annotations

from formulas import contributions_formulas


def register() -> None:
    """Add every contribution of this world; called once on start."""
    contributions_formulas.register()
