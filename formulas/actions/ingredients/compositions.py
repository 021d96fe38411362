"""Substances, and what an ingredient declares and contains."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError

from formulas.actions.ingredients.once import identity, settled, written
from formulas.assembly import as_rule_composition
from formulas.models import Basis, Composition, Constituent, Ingredient, Source, Substance
from formulas.rules.composition import shares, substance_key
from makers.actions import By, Refused, recording
from makers.models import Document


def find_substance(by: By, name: str) -> Substance | None:
    """The maker's own or the shared substance of this INCI name, however it is written."""
    rows = Substance.objects.known_to(by.maker).filter(key=substance_key(name))
    return next(iter(sorted(rows, key=lambda row: row.maker_id is None)), None)


def add_substance(
    by: By,
    *,
    inci_name: str,
    us_name: str = "",
    cas: str = "",
    is_colourant: bool = False,
    is_perfume: bool = False,
    function: str = "",
    source: str = "",
    entry_key: UUID | None = None,
) -> Substance:
    """Add a substance of the maker's own, where the shared reference has none of that name."""
    with settled(by):
        if found := written(by, Substance, entry_key):
            return found
        if known := find_substance(by, inci_name):
            raise Refused({"inci_name": f"It is here already, as {known.inci_name}."})
        with recording(by, "substance.added") as entry:
            row = Substance(
                maker=by.maker,
                key=substance_key(inci_name),
                inci_name=inci_name,
                us_name=us_name,
                cas=cas,
                is_colourant=is_colourant,
                is_perfume=is_perfume,
                function=function,
                source=source,
                basis=Basis.CONFIRMED,
                **identity(entry_key),
            )
            row.full_clean()
            row.save()
            entry.about(row)
            entry.say(source=source)
    return row


def add_composition(
    by: By,
    *,
    ingredient: Ingredient,
    constituents: Sequence[Mapping[str, Any]],
    valid_from: date | None = None,
    source: Source | None = None,
    basis: str = Basis.SUPPLIER,
    origin: str = "",
    allergens_stated: bool = False,
    document: Document | None = None,
    after: int | None = None,
    entry_key: UUID | None = None,
) -> Composition:
    """Write the next composition of an ingredient, for one source or for all. Earlier ones stay as they are.

    constituents: substance, kind ("declared" or "within"), low, typical, high, rank, incidental,
    incidental_reason; percent of the ingredient, None = not known. after: the number that the form was made
    from. Raises Refused for figures that can't all be true, for a source of another ingredient, and when
    somebody wrote a composition meanwhile; what is unknown stays unknown and is no reason to refuse.
    """
    refuse_empty(constituents)
    with settled(by):
        if found := written(by, Composition, entry_key):
            return found
        newest = Composition.objects.filter(ingredient=ingredient).order_by("-number").first()
        number = newest.number if newest else 0
        if after is not None and after != number:
            text = f"Composition {number} was written meanwhile. Compare it with yours;"
            raise Refused(f"{text} send it again to add yours after it.")
        if source is not None and source.ingredient_id != ingredient.pk:
            raise Refused({"source": "That source is of another ingredient."})
        with recording(by, "composition.added") as entry:
            row = Composition(
                maker=by.maker,
                ingredient=ingredient,
                source=source,
                number=number + 1,
                valid_from=valid_from or by.today(),
                document=document,
                origin=origin,
                basis=basis,
                allergens_stated=allergens_stated,
                **identity(entry_key),
            )
            row.full_clean()
            row.save()
            for part in constituents:
                save_constituent(by, row, part)
            stored = Composition.objects.prefetch_related("constituents__substance").get(pk=row.pk)
            refuse_untrue(stored, ingredient)
            entry.about(ingredient)
            entry.mention(row, source, document)
            supplier = str(source) if source else "every source"
            entry.say(number=row.number, supplier=supplier, origin=origin, parts=len(constituents))
    return row


UNSTORED = 0
"""Stands for the key of a composition that has none; the database never gives it."""


def supposed_composition(
    by: By,
    *,
    ingredient: Ingredient,
    constituents: Sequence[Mapping[str, Any]],
    source: Source | None = None,
    basis: str = Basis.SUPPLIER,
    origin: str = "",
    allergens_stated: bool = False,
) -> Composition:
    """What ``add_composition`` would write, in memory alone, with its constituents and substances loaded.

    Raises Refused where the figures can't all be true, in the same words.
    """
    refuse_empty(constituents)
    newest = Composition.objects.filter(ingredient=ingredient).order_by("-number").first()
    row = Composition(
        pk=UNSTORED,
        maker=by.maker,
        ingredient=ingredient,
        source=source,
        number=newest.number + 1 if newest else 1,
        valid_from=by.today(),
        basis=basis,
        origin=origin,
        allergens_stated=allergens_stated,
    )
    parts = [as_constituent(by, row, part) for part in constituents]
    named = [(part.substance_id, part.kind) for part in parts]
    for part in parts:
        if named.count((part.substance_id, part.kind)) > 1:
            raise Refused(f"{part.substance}: That substance is already in this composition.")
    parts.sort(key=lambda part: (part.kind, part.rank is None, part.rank or 0))
    row._prefetched_objects_cache = {"constituents": parts_in_memory(parts)}  # type: ignore[attr-defined] # as prefetch_related keeps them
    refuse_untrue(row, ingredient)
    return row


def parts_in_memory(parts: list[Constituent]) -> Any:
    """A query of constituents that was answered already, by these."""
    found = Constituent.objects.none()
    found._result_cache = parts
    return found


def refuse_empty(constituents: Sequence[Mapping[str, Any]]) -> None:
    """Refuse a composition that declares nothing."""
    if not any(part.get("kind", "declared") == "declared" for part in constituents):
        raise Refused("A composition names at least one substance that it declares.")


def refuse_untrue(checked: Composition, ingredient: Ingredient) -> None:
    """Refuse figures that can't all be true, with the rule's own sentence; constituents must be loaded."""
    found = shares(as_rule_composition(checked, ingredient.name)).findings
    if wrong := [f"{one.message} {one.cure}".strip() for one in found if one.severity == "stop"]:
        raise Refused(" ".join(wrong))


def save_constituent(by: By, row: Composition, part: Mapping[str, Any]) -> Constituent:
    """Write one constituent. Raises Refused, naming the substance."""
    constituent = as_constituent(by, row, part)
    try:
        constituent.full_clean()
    except ValidationError as error:
        raise Refused(f"{constituent.substance}: {' '.join(error.messages)}") from error
    constituent.save()
    return constituent


def as_constituent(by: By, row: Composition, part: Mapping[str, Any]) -> Constituent:
    """One constituent, not written yet. Raises Refused, naming the substance."""
    substance: Substance = part["substance"]
    constituent = Constituent(
        maker=by.maker,
        composition=row,
        substance=substance,
        kind=part.get("kind", "declared"),
        low=part.get("low"),
        typical=part.get("typical"),
        high=part.get("high"),
        rank=part.get("rank"),
        incidental=bool(part.get("incidental")),
        incidental_reason=part.get("incidental_reason", ""),
    )
    if constituent.incidental and not constituent.incidental_reason:
        raise Refused(f"{substance}: say why it counts as incidental; the law wants a reason.")
    if substance.maker_id not in (None, by.maker.pk):
        raise Refused(f"{substance} is not one of your substances.")
    return constituent


def confirm_composition(by: By, *, composition: Composition, basis: str) -> Composition:
    """Confirm a composition as it stands, saying against what it was checked. No figure of it changes."""
    if not basis.strip():
        raise Refused({"basis": "Say against what you checked it: sheet, certificate, analysis."})
    with settled(by):
        rows = Composition.objects.for_maker(by.maker).select_related("ingredient")
        row: Composition = rows.get(pk=composition.pk)
        if (row.basis, row.origin) == (Basis.CONFIRMED, basis):
            return row
        with recording(by, "composition.confirmed") as entry:
            entry.about(row.ingredient)
            entry.mention(row)
            entry.say(number=row.number, basis=basis, was={"basis": row.basis, "origin": row.origin})
            row.basis, row.origin = Basis.CONFIRMED, basis
            row.save(update_fields=["basis", "origin"])
    return row
