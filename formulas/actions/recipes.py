"""Writing the draft of a recipe that was read from elsewhere."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction

from formulas.actions.formulas import save_version, start_formula
from formulas.actions.ingredients import add_ingredient, copy_from_catalogue
from formulas.models import FormulaVersion, Ingredient
from formulas.recipes import CATALOGUE, OWN, Reading, as_phases, as_steps
from makers.actions import By, Refused

NEW = "new"


def write_recipe(
    by: By, *, head: Mapping[str, Any], text: str, reading: Reading, meant: Sequence[tuple[int, str, str]]
) -> FormulaVersion:
    """Start a formula with the recipe as its first draft, and the text it was read from beside it.

    head: as start_formula takes it. meant: for each line that counts its number, "own:", "catalogue:" or "new:"
    with a key, and the name for a new one. What is new among the ingredients is written down with it, all or
    nothing. Raises Refused for a line that no ingredient was chosen for.
    """
    with transaction.atomic():
        found: dict[int, Ingredient] = {}
        made: dict[str, Ingredient] = {}
        for number, key, name in meant:
            world, _, of = key.partition(":")
            if world == OWN:
                row = Ingredient.objects.for_maker(by.maker).get(pk=of)
            elif key in made:
                row = made[key]
            elif world == CATALOGUE:
                row = made[key] = copy_from_catalogue(by, key=of)
            elif world == NEW:
                row = made[key] = add_ingredient(by, name=name)
            else:
                raise Refused(f"Line {number}: choose what it means, or leave it out.")
            found[number] = row
        version = start_formula(by, **head, read_from=text)
        phases, steps = as_phases(reading, found), as_steps(reading)
        return save_version(by, version=version, phases=phases, steps=steps, edit=version.edit)
