"""Use levels: how much of an ingredient belongs in a product, and who says so."""

from __future__ import annotations

from decimal import Decimal
from uuid import UUID

from formulas.actions.ingredients.once import identity, settled, written
from formulas.models import Basis, Ingredient, UseLevel
from makers.actions import By, Refused, recording


def add_use_level(
    by: By,
    *,
    ingredient: Ingredient,
    source: str,
    kind: str = UseLevel.Kind.ANY,
    low: Decimal | None = None,
    high: Decimal | None = None,
    market: str = "",
    category: str = "",
    basis: str = Basis.SUPPLIER,
    entry_key: UUID | None = None,
) -> UseLevel:
    """Add a use level, percent of the product, with who says so. Raises Refused for what can't stand.

    category: the product category of a perfume certificate, "" for a level that holds in all of them.
    """
    if low is None and high is None:
        raise Refused({"high": "Write at least one end of the range."})
    if low is not None and high is not None and low > high:
        raise Refused({"low": "The lower end is above the upper one."})
    with settled(by):
        if found := written(by, UseLevel, entry_key):
            return found
        with recording(by, "uselevel.added") as entry:
            row = UseLevel(
                maker=by.maker,
                ingredient=ingredient,
                kind=kind,
                market=market,
                category=category.upper(),
                low=low,
                high=high,
                source=source,
                basis=basis,
                **identity(entry_key),
            )
            row.full_clean()
            row.save()
            entry.about(ingredient)
            entry.mention(row)
            entry.say(
                low=low, high=high, kind=kind, market=market, category=category, source=source, basis=basis
            )
    return row


def confirm_use_level(by: By, *, level: UseLevel, basis: str) -> UseLevel:
    """Confirm a use level, saying against what it was checked; that becomes its source."""
    if not basis.strip():
        raise Refused({"basis": "Say against what you checked it: sheet, certificate, book."})
    with recording(by, "uselevel.confirmed") as entry:
        row: UseLevel = UseLevel.objects.for_maker(by.maker).select_for_update().get(pk=level.pk)
        entry.say(basis=basis, was={"basis": row.basis, "source": row.source})
        row.basis, row.source = Basis.CONFIRMED, basis
        row.save(update_fields=["basis", "source"])
        entry.about(row.ingredient)
        entry.mention(row)
    return row


def remove_use_level(by: By, *, level: UseLevel, why: str) -> None:
    """Take a use level off, with the reason; the journal keeps what it was. Gone already is gone."""
    if not why.strip():
        raise Refused({"why": "Say why it goes."})
    with settled(by):
        row: UseLevel | None = UseLevel.objects.for_maker(by.maker).filter(pk=level.pk).first()
        if row is None:
            return
        with recording(by, "uselevel.removed", why=why) as entry:
            entry.about(row.ingredient)
            entry.mention(row)
            entry.say(low=row.low, high=row.high, kind=row.kind, source=row.source)
            row.delete()
