"""Lots as lists and panels show them: one row each, with its state and what it is of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from batches.models import Lot
from batches.rules.lot_state import Shown, shown_state
from batches.views.leads import lead
from makers.models import Maker


@dataclass(frozen=True, slots=True)
class Row:
    """A lot in a list."""

    lot: Lot
    url: str
    material: str
    material_url: str
    state: Shown
    supplier: str

    @property
    def is_pieces(self) -> bool:
        """Whether it is counted."""
        return self.lot.unit == Lot.Unit.PIECES


def material_of(lot: Lot) -> tuple[str, str, str]:
    """What the lot is of: its name, the kind of its code, the code. Its relations must be loaded."""
    if lot.ingredient is not None:
        return lot.ingredient.name, "ingredient", lot.ingredient.code
    if lot.article is not None:
        return lot.article.name, "article", lot.article.code
    name = lot.rework_of.name if lot.rework_of else ""
    return f"{name}, rework", "formula", lot.rework_of.code if lot.rework_of else ""


def supplier_of(lot: Lot) -> str:
    """Who it came from, or where it was made. Its relations must be loaded."""
    if lot.delivery is not None:
        return lot.delivery.supplier.name
    if lot.from_batch is not None:
        return f"batch {lot.from_batch.code}"
    return "counted in"


def rows_of(maker: Maker, lots: Iterable[Lot], today: date) -> list[Row]:
    """Rows for lots that were loaded ``with_subject``."""
    rows = []
    for lot in lots:
        name, kind, code = material_of(lot)
        rows.append(
            Row(
                lot=lot,
                url=lead(maker, "lot", lot.code),
                material=name,
                material_url=lead(maker, kind, code),
                state=shown_state(lot.facts(), today),
                supplier=supplier_of(lot),
            )
        )
    return rows


def total(lots: Iterable[Lot]) -> Decimal:
    """What is on hand of several lots of one unit."""
    return sum((lot.on_hand for lot in lots), start=Decimal(0))
