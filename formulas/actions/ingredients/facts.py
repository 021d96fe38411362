"""Ingredients and their facts, each with what it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from formulas.actions.ingredients.once import identity, settled, written
from formulas.models import Basis, Formula, Ingredient
from makers.actions import By, Refused, entries_about, give_code, recording
from makers.rules.display import clock, figure
from makers.rules.reading import decimal_mark

FACT_FIELDS = (
    "form", "soluble_in", "density_g_ml", "melting_low_c", "melting_high_c", "add_below_c",
    "ph_low", "ph_high", "hlb", "hlb_required", "dietary_source", "shelf_life_months",
)  # fmt: skip
"""Facts of an ingredient that carry a basis of their own."""

CHANGEABLE = (
    "name", "common_name", "roles", "form", "soluble_in", "solubility_note", "density_g_ml",
    "density_kind", "melting_low_c", "melting_high_c", "add_below_c", "ph_low", "ph_high", "hlb", "hlb_required",
    "dietary_source", "shelf_life_months", "is_perfume", "made_from", "low_stock_g", "note", "active",
)  # fmt: skip

NOTHING = (None, "", "unknown")
"""Values that say that a fact is not known."""


def said(by: By, basis: str, source: str) -> dict[str, str]:
    """What a fact rests on, who wrote that and when."""
    return {"basis": basis, "source": source, "by": str(by.user), "at": by.now().isoformat()}


def check_ranges(row: Ingredient) -> None:
    """Lower ends stay below upper ends, and a density says of what. Raises Refused."""
    for low, high, words in (
        ("melting_low_c", "melting_high_c", "melting range"),
        ("ph_low", "ph_high", "pH range"),
    ):
        first, last = getattr(row, low), getattr(row, high)
        if first is not None and last is not None and first > last:
            mark = decimal_mark(row.maker.locale)
            ends = f"{figure(first, mark=mark)} is above {figure(last, mark=mark)}"
            raise Refused({low: f"The {words} is the wrong way round: {ends}."})
    if row.density_g_ml is not None and not row.density_kind:
        raise Refused({"density_kind": "A density of what: the liquid, the melt, the solid or loose powder?"})
    if row.density_g_ml is None:
        row.density_kind = ""


def add_ingredient(
    by: By,
    *,
    name: str,
    facts: Mapping[str, Any] | None = None,
    basis: str = Basis.CONFIRMED,
    basis_source: str = "",
    entry_key: UUID | None = None,
    **fields: Any,
) -> Ingredient:
    """Add an ingredient.

    facts: what single facts rest on, by field. basis, basis_source: what every other given fact rests on.
    entry_key: of the form, so that a second sending gives back the first record.
    """
    if wrong := fields.keys() - set(CHANGEABLE):
        raise ValueError(f"{wrong} can't be given here.")
    with settled(by):
        if found := written(by, Ingredient, entry_key):
            return found
        with recording(by, "ingredient.added") as entry:
            row = Ingredient(maker=by.maker, name=name, **identity(entry_key), **fields)
            check_ranges(row)
            row.code = give_code(by, "ingredient", row)
            given = dict(facts or {})
            for field in FACT_FIELDS:
                if field not in given and getattr(row, field) not in NOTHING:
                    given[field] = said(by, basis, basis_source)
            row.facts = given
            row.full_clean()
            row.save()
            entry.about(row)
    return row


def change_ingredient(
    by: By,
    *,
    ingredient: Ingredient,
    was: Mapping[str, Any] | None = None,
    basis: str = Basis.CONFIRMED,
    basis_source: str = "",
    **fields: Any,
) -> Ingredient:
    """Change facts of an ingredient; what a changed fact rests on is ``basis``.

    was: the values that the form was made from, by field. Raises Refused for a field that somebody else
    changed meanwhile to something else than is wanted now, and for what can't stand. A change that changes
    nothing is not written down.
    """
    if wrong := fields.keys() - set(CHANGEABLE):
        raise ValueError(f"{wrong} can't be changed here.")
    with settled(by):
        row: Ingredient = Ingredient.objects.for_maker(by.maker).select_for_update().get(pk=ingredient.pk)
        changed = {key: value for key, value in fields.items() if getattr(row, key) != value}
        if not changed:
            return row
        refuse_stale(by, row, was or {}, changed)
        if changed.get("made_from") is not None:
            refuse_circle(row, changed["made_from"])
        with recording(by, "ingredient.changed") as entry:
            for key, value in changed.items():
                setattr(row, key, value)
                if key in FACT_FIELDS:
                    row.facts.pop(key, None)
                    if value not in NOTHING:
                        row.facts[key] = said(by, basis, basis_source)
            if "density_kind" in changed and row.density_g_ml is not None:
                row.facts["density_g_ml"] = said(by, basis, basis_source)
            check_ranges(row)
            row.full_clean()
            row.save()
            entry.about(row)
            words = ", ".join(sorted(changed)).replace("_", " ")
            entry.say(fields=words, values=changed, basis=basis, source=basis_source)
    return row


def refuse_stale(by: By, row: Ingredient, was: Mapping[str, Any], wanted: Mapping[str, Any]) -> None:
    """Refuse fields that no longer hold what the form showed."""
    moved = [key for key in wanted if key in was and getattr(row, key) != was[key]]
    if not moved:
        return
    entries = list(entries_about(by.maker, row.uuid).filter(action="ingredient.changed")[:50])
    wrong = {}
    for key in moved:
        last = next((one for one in entries if key in one.change.get("values", {})), None)
        who = f"{last.user_label} changed it" if last else "It was changed"
        at = f" at {clock(last.at.astimezone(by.maker.zone))}" if last else ""
        now, typed = words_for(by, row, key, getattr(row, key)), words_for(by, row, key, wanted[key])
        wrong[key] = f"{who} to {now}{at}; you wrote {typed}. Which holds? Send it again to keep yours."
    raise Refused(wrong)


def words_for(by: By, row: Ingredient, key: str, value: Any) -> str:
    """A value of a field as a sentence says it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value in (None, "", []):
        return "nothing"
    if isinstance(value, list):
        return ", ".join(value)
    column: Any = row._meta.get_field(key)
    choices = dict(column.choices or ())
    if value in choices:
        return str(choices[value])
    if hasattr(value, "as_tuple"):
        return figure(value, most=8, mark=decimal_mark(by.maker.locale))
    return f"“{value}”" if isinstance(value, str) else str(value)


def refuse_circle(row: Ingredient, formula: Formula) -> None:
    """No ingredient is made from a formula that contains it, at any depth."""
    seen: set[int] = set()
    wanted = {formula.pk}
    while wanted:
        inside = Ingredient.objects.filter(lines__version__formula__in=wanted).distinct()
        if inside.filter(pk=row.pk).exists():
            raise Refused({"made_from": f"{formula} contains {row} already; it can't also make it."})
        seen |= wanted
        wanted = {key for key in inside.values_list("made_from_id", flat=True) if key} - seen


def confirm_fact(by: By, *, ingredient: Ingredient, field: str, basis: str) -> Ingredient:
    """Confirm a fact, saying against what it was checked. Raises Refused when nothing is known to confirm."""
    if not basis.strip():
        raise Refused({"basis": "Say against what you checked it: sheet, certificate, your own test."})
    if field not in FACT_FIELDS:
        raise Refused("That is no fact to confirm.")
    with settled(by):
        row: Ingredient = Ingredient.objects.for_maker(by.maker).select_for_update().get(pk=ingredient.pk)
        if getattr(row, field) in NOTHING:
            raise Refused("It is not known yet, so there is nothing to confirm. Write down the figure first.")
        known = row.facts.get(field, {})
        if (known.get("basis"), known.get("source")) == (Basis.CONFIRMED.value, basis):
            return row
        with recording(by, "ingredient.confirmed") as entry:
            row.facts[field] = said(by, Basis.CONFIRMED, basis)
            row.save(update_fields=["facts"])
            entry.about(row)
            entry.say(field=field.replace("_", " "), value=getattr(row, field), basis=basis)
    return row
