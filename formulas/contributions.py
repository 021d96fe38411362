"""What the formulas world contributes to the registries of the house."""

from __future__ import annotations

from formulas import contributions_costs, contributions_formulas, contributions_ingredients, demo


def register() -> None:
    """Add every contribution of this world; called once on start."""
    contributions_ingredients.register()
    contributions_formulas.register()
    contributions_costs.register()
    demo.register()
