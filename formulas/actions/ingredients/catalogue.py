"""Copying a raw material of the starter catalogue, with what each figure rests on."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from formulas.actions.ingredients.compositions import add_composition
from formulas.actions.ingredients.facts import NOTHING, add_ingredient
from formulas.actions.ingredients.once import settled, written
from formulas.actions.ingredients.uselevels import add_use_level
from formulas.models import ROLES, Ingredient, Substance
from formulas.reference import basis_word
from formulas.rules.catalogue import CatalogueMaterial, catalogue_by_key, catalogue_compositions
from formulas.rules.composition import Composition
from makers.actions import By, Refused, recording

COPIED = (
    "form", "soluble_in", "density_g_ml", "melting_low_c", "melting_high_c", "add_below_c",
    "ph_low", "ph_high", "dietary_source", "shelf_life_months",
)  # fmt: skip
"""Facts that the catalogue and an ingredient name alike."""


def usual_name(material: CatalogueMaterial) -> str:
    """The name that a copy gets."""
    return material.name[:1].upper() + material.name[1:]


def facts_of(material: CatalogueMaterial) -> dict[str, dict[str, str]]:
    """What each known fact rests on, by field."""
    return {
        field: {"basis": basis_word(material.basis_of(field)), "source": material.source_of(field)}
        for field in COPIED
        if getattr(material, field) not in NOTHING
    }


def copy_from_catalogue(by: By, *, key: str, name: str = "", entry_key: UUID | None = None) -> Ingredient:
    """Copy a raw material: its facts, composition and use levels, each with its basis. Raises Refused."""
    material = catalogue_by_key().get(key)
    if material is None:
        raise Refused("That material is not in the catalogue.")
    name = name or usual_name(material)
    with settled(by):
        if found := written(by, Ingredient, entry_key):
            return found
        if Ingredient.objects.for_maker(by.maker).filter(name=name).exists():
            raise Refused({"name": f"{name} is among your ingredients already. Give the copy another name."})
        with recording(by, "ingredient.copied") as entry:
            facts, fields = facts_of(material), fields_of(material)
            row = add_ingredient(by, name=name, facts=facts, entry_key=entry_key, **fields)
            copy_use_levels(by, row, material)
            known = catalogue_compositions().get(key)
            if known is not None:
                copy_composition(by, row, known)
            entry.about(row)
            entry.say(material=material.name, key=key)
    return row


def fields_of(material: CatalogueMaterial) -> dict[str, Any]:
    """The columns of an ingredient from the catalogue."""
    known = {field: getattr(material, field) for field in COPIED}
    note = f"From the catalogue ({basis_word(material.basis)}): {material.facts}." if material.facts else ""
    return {
        **known,
        "form": material.form or "unknown",
        "soluble_in": material.soluble_in or "unknown",
        "solubility_note": material.solubility_note[:200],
        "density_kind": material.density_kind if material.density_g_ml is not None else "",
        "dietary_source": material.dietary_source[:120],
        "roles": [material.role] if material.role in ROLES else [],
        "is_perfume": material.is_perfume,
        "note": note,
    }


def copy_use_levels(by: By, row: Ingredient, material: CatalogueMaterial) -> None:
    """The typical use levels, where the catalogue knows any."""
    for level in material.use_levels:
        add_use_level(
            by,
            ingredient=row,
            kind=level.kind,
            low=level.low,
            high=level.high or None,
            source=level.source or "common practice, no source",
            basis=basis_word(level.basis),
        )


def copy_composition(by: By, row: Ingredient, known: Composition) -> None:
    """The composition, where every substance of it is on record. Raises Refused when one is not."""
    keys = {part.substance for part in known.constituents}
    found = {one.key: one for one in Substance.objects.filter(maker=None, key__in=keys)}
    if missing := sorted(keys - found.keys()):
        raise Refused(f"The reference has no {', '.join(missing)}; run the database's migrations again.")
    add_composition(
        by,
        ingredient=row,
        valid_from=by.today(),
        basis=basis_word(known.basis),
        origin=f"starter catalogue: {known.source}" if known.source else "starter catalogue",
        allergens_stated=known.within_stated,
        constituents=[
            {
                "substance": found[part.substance],
                "kind": part.kind,
                "low": part.low,
                "typical": part.typical,
                "high": part.high,
                "rank": part.rank,
            }
            for part in known.constituents
        ],
    )
